"""Whoever hands over an iterator gets what a tuple gives: of every public function."""

import inspect
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, date, datetime
from fractions import Fraction
from importlib import import_module
from pkgutil import iter_modules
from types import FunctionType
from typing import Any, Final, TypeAlias

import pytest
from msgspec.structs import replace

import wrung
import wrung.handwork
from solver.untimed import untimed
from wrung import Answer, LengthGrid, LengthTarget, Wanted, metrology, mm, targets
from wrung.checker.coverage import verify_coverage
from wrung.handwork import (
    changes,
    for_answer,
    instructions,
    materials,
    order,
    soaking,
    step,
    uses,
)
from wrung.handwork.work import Work, alone
from wrung.metrology import STANDARD, Instrument, RequiredRatio
from wrung.targets import CheckPointsTarget
from wrung.testing import make_blocks

Several: TypeAlias = Callable[[Iterable[Any]], Any]
"""Makes of the items what is handed over: a tuple, an iterator or a list."""

SHELF: Final = make_blocks("50 25 10 1 2 3")
WANTED: Final = (
    CheckPointsTarget(ref="m", points=(mm("26"), mm("27"))),
    LengthTarget(ref="x", length=mm("12")),
)
ONE: Final = (LengthTarget(ref="x", length=mm("13")),)
GRID: Final = LengthGrid(start=mm("1"), stop=mm("20"), step=mm("1"))
RATIO: Final = RequiredRatio(target="x", width=mm("1"), ratio=Fraction(2))
PLAN: Final = wrung.solve(SHELF, WANTED)
BEST: Final = wrung.solve(SHELF, ONE)
STACK: Final = BEST.stacks[0]
RESULTS: Final = targets.results(WANTED, PLAN, SHELF)
WORK: Final = Work(stack=STACK, shelf=SHELF, series=alone(STACK))
OTHERS: Final = wrung.alternatives(SHELF, ONE, BEST)
POINTS: Final = wrung.trade_off(SHELF, ONE, BEST)
SURVEY: Final = wrung.coverage_of(SHELF, GRID)
COSTS: Final = [metrology.block_cost(block) for block in SHELF]
CHECK: Final = metrology.check_stack(SHELF, ("b2", "b3", "b4"), mm("13"))


def options(several: Several) -> dict[str, Any]:
    """All options that take several of anything."""
    return {
        "exclude": several(["b0"]),
        "only": several([block.id for block in SHELF]),
        "required_ratios": several([RATIO]),
    }


CALLS: Final[dict[Any, Callable[[Several], object]]] = {
    wrung.solve: lambda s: wrung.solve(s(SHELF), s(WANTED), **options(s)),
    wrung.solve_with_guard_bands: lambda s: wrung.solve_with_guard_bands(
        s(SHELF), s(WANTED), **options(s)
    ),
    wrung.verify: lambda s: wrung.verify(s(SHELF), s(WANTED), PLAN, **options(s)),
    wrung.alternatives: lambda s: wrung.alternatives(s(SHELF), s(ONE), BEST, **options(s)),
    wrung.verify_alternatives: lambda s: wrung.verify_alternatives(
        s(SHELF), s(ONE), BEST, OTHERS, **options(s)
    ),
    wrung.trade_off: lambda s: wrung.trade_off(s(SHELF), s(ONE), BEST, **options(s)),
    wrung.verify_trade_off: lambda s: wrung.verify_trade_off(
        s(SHELF), s(ONE), BEST, POINTS, **options(s)
    ),
    targets.in_turn: lambda s: targets.in_turn(s(WANTED)),
    wrung.coverage_of: lambda s: wrung.coverage_of(
        s(SHELF),
        GRID,
        exclude=s(["b0"]),
        only=s([b.id for b in SHELF]),
        offers=s([Wanted(nominal=mm("5")), Wanted(nominal=mm("7"))]),
    ),
    verify_coverage: lambda s: verify_coverage(
        s(SHELF), SURVEY, exclude=s([]), only=s([b.id for b in SHELF])
    ),
    metrology.apply_certificates: lambda s: metrology.apply_certificates(s(SHELF), s(SHELF[:2])),
    metrology.better_stacks: lambda s: metrology.better_stacks(CHECK, s([BEST, BEST])),
    metrology.check_stack: lambda s: metrology.check_stack(
        s(SHELF),
        s(["b2", "b3", "b4"]),
        mm("13"),
        instruments=s([Instrument(name="caliper", resolution=mm("0.01"))]),
    ),
    metrology.day_of_use: lambda s: metrology.day_of_use(
        s(ONE[0].requirements()), datetime(2031, 3, 3, tzinfo=UTC)
    ),
    metrology.growth: lambda s: metrology.growth(s(SHELF), STANDARD),
    metrology.safe_factor: lambda s: metrology.safe_factor(s(SHELF)),
    metrology.sort_by_due: lambda s: metrology.sort_by_due(s(SHELF), date(2031, 3, 3)),
    metrology.stack_budget: lambda s: metrology.stack_budget(s(SHELF)),
    metrology.stack_variance: lambda s: metrology.stack_variance(s(COSTS), joint=3),
    targets.placed_requirements: lambda s: targets.placed_requirements(s(WANTED)),
    targets.results: lambda s: targets.results(s(WANTED), PLAN, s(SHELF)),
    targets.served: lambda s: targets.served(s(WANTED), PLAN),
    targets.served_at_most: lambda s: targets.served_at_most(s(WANTED), PLAN),
    targets.usual_step: lambda s: targets.usual_step(s(SHELF), "mm"),
    changes.joints_of: lambda s: changes.joints_of(s(STACK.blocks)),
    for_answer.handwork: lambda s: for_answer.handwork(PLAN, s(WANTED), s(RESULTS), s(SHELF)),
    instructions.instructions: lambda s: instructions.instructions(
        WORK, cautions=s(["cautions.sine"])
    ),
    instructions.waiting: lambda s: instructions.waiting(s(instructions.steps(WORK))),
    materials.any_brittle: lambda s: materials.any_brittle(s(SHELF)),
    materials.any_slow: lambda s: materials.any_slow(s(SHELF)),
    order.standing: lambda s: order.standing(s(STACK.blocks)),
    order.wringing_order: lambda s: order.wringing_order(s(STACK.blocks)),
    order.wrung_onto: lambda s: order.wrung_onto(s(STACK.blocks), 1),
    soaking.normalising_minutes: lambda s: soaking.normalising_minutes(s(SHELF)),
    soaking.soaking_minutes: lambda s: soaking.soaking_minutes(s(SHELF)),
    step.of_block: lambda s: step.of_block(
        "wring", "step.wring", STACK.blocks[1], s(STACK.blocks[:1])
    ),
    step.of_blocks: lambda s: step.of_blocks("fetch", "step.take", s(STACK.blocks)),
    uses.uses: lambda s: tuple(uses.uses(ONE[0], None, s(BEST.stacks))),
}


def public_functions() -> Iterator[FunctionType]:
    """Those of the library that take several of anything."""
    handwork = [f"wrung.handwork.{each.name}" for each in iter_modules(wrung.handwork.__path__)]
    modules = ("wrung", "wrung.metrology", "wrung.targets", "wrung.checker.coverage", *handwork)
    for module in map(import_module, modules):
        own = [name for name in vars(module) if not name.startswith("_")]
        for name in getattr(module, "__all__", own):
            function = getattr(module, name)
            if isinstance(function, FunctionType) and takes_several(function):
                yield function


def takes_several(function: FunctionType) -> bool:
    """By its signature; options are passed on by name."""
    kinds = ("Sequence", "Collection", "Iterable", "Options")
    given = inspect.signature(function).parameters.values()
    return function.__module__.startswith("wrung") and any(
        kind in str(parameter.annotation) for parameter in given for kind in kinds
    )


def test_every_public_function_is_called_here() -> None:
    assert set(public_functions()) == set(CALLS)


@pytest.mark.parametrize("call", CALLS.values(), ids=[each.__name__ for each in CALLS])
def test_an_iterator_is_as_good_as_a_tuple(call: Callable[[Several], object]) -> None:
    wanted = without_times(call(tuple))

    assert without_times(call(iter)) == wanted
    assert without_times(call(list)) == wanted


def without_times(found: object) -> object:
    """What is twice the same."""
    if isinstance(found, Answer):
        return untimed(found)
    if isinstance(found, wrung.GuardedAnswer):
        return replace(found, answer=untimed(found.answer))
    return replace(found, solve_ms=0.0) if isinstance(found, wrung.Coverage) else found
