"""A stack as the planner would hand it back, without planning."""

from collections.abc import Callable
from typing import TypeAlias

import pytest

from wrung.answers import PlacedBlock, Stack

MakeStack: TypeAlias = Callable[..., Stack]


@pytest.fixture
def make_stack() -> MakeStack:
    """A stack of one block with a deviation and a margin, named like ``bore/go``."""

    def make(ref: str, length: int, *, off: int = 0, deviation: int = 0, margin: int = 0) -> Stack:
        nominal = length + off
        target, _, role = ref.partition("/")
        return Stack(
            target=target,
            role=role or None,
            length=length,
            nominal=nominal,
            joints=0,
            blocks=(PlacedBlock(id="b0", nominal=nominal),),
            deviation=deviation,
            worst_case_error=abs(off + deviation) + margin,
        )

    return make
