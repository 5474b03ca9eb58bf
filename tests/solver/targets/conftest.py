"""A stack as the planner would hand it back, without planning."""

from collections.abc import Callable
from typing import TypeAlias

import pytest

from wrung.answers import PlacedBlock, Stack
from wrung.blocks import Block
from wrung.metrology.conditions import STANDARD, Conditions
from wrung.targets.built import BudgetedStack, budgeted

MakeStack: TypeAlias = Callable[..., BudgetedStack]


@pytest.fixture
def make_stack() -> MakeStack:
    """A stack of one certified block, with its budget, named like ``bore/go``."""

    def make(  # noqa: PLR0913 - what there is to say of a stack
        ref: str,
        length: int,
        *,
        off: int = 0,
        deviation: int = 0,
        margin: int = 0,
        material: str | None = None,
        conditions: Conditions = STANDARD,
    ) -> BudgetedStack:
        nominal = length + off
        target, _, role = ref.partition("/")
        stack = Stack(
            target=target,
            role=role or None,
            length=length,
            nominal=nominal,
            joints=0,
            blocks=(PlacedBlock(id="b0", nominal=nominal),),
            deviation=deviation,
            worst_case_error=abs(off + deviation) + margin,
        )
        block = Block(
            id="b0",
            nominal=nominal,
            deviation=deviation,
            expanded_uncertainty=margin,
            material=material,
        )
        return budgeted(stack, {"b0": block}, conditions, 0)

    return make
