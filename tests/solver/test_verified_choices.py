"""The checker of alternatives and trade-offs: what is right passes, and each lie is found."""

from collections.abc import Callable
from typing import Final, TypeAlias

import pytest
from msgspec.structs import replace

from wrung import (
    Alternative,
    Alternatives,
    Block,
    Objective,
    TradeOff,
    TradeOffPoint,
    alternatives,
    mm,
    solve,
    trade_off,
    um,
)
from wrung.checker.choices import verify_alternatives, verify_trade_off
from wrung.metrology import ErrorMeasure
from wrung.testing import make_blocks, make_targets

SHELF: Final = (
    *make_blocks("5 5 3 2", limit_deviation="0.1"),
    Block(id="bad", nominal=mm("5"), limit_deviation=um("1")),
)
OBJECTIVES: Final[tuple[Objective, ...]] = ("fewest_blocks", "least_error")
ONE, THREE = make_targets("5"), make_targets("5 5 5")

Liar: TypeAlias = Callable[[tuple[Alternative, ...]], tuple[Alternative, ...]]
PointLiar: TypeAlias = Callable[[tuple[TradeOffPoint, ...]], tuple[TradeOffPoint, ...]]


def others() -> Alternatives:
    return alternatives(SHELF, ONE, solve(SHELF, ONE))


def traded() -> TradeOff:
    return trade_off(SHELF, THREE, solve(SHELF, THREE))


def test_what_is_found_is_confirmed() -> None:
    assert len(others().stacks) == 2
    assert len(traded().points) == 2
    assert verify_alternatives(SHELF, ONE, solve(SHELF, ONE), others()) == ()
    assert verify_trade_off(SHELF, THREE, solve(SHELF, THREE), traded()) == ()


ALTERNATIVES: Final[dict[str, tuple[str, Liar]]] = {
    "a rank too high": ("ranks", lambda all_: (replace(all_[0], rank=3), all_[1])),
    "in the wrong order": ("ranks", lambda all_: all_[::-1]),
    "the same again": ("alternatives", lambda all_: (all_[0], all_[0], all_[1])),
    "a better error": (
        "worst-case errors",
        lambda all_: (replace(all_[0], stack=replace(all_[0].stack, worst_case_error=0)), all_[1]),
    ),
    "for nobody": (
        "refs",
        lambda all_: (all_[0], replace(all_[1], stack=replace(all_[1].stack, target="x"))),
    ),
    "another measure": (
        "compared",
        lambda all_: (
            replace(all_[0], compared_errors=_corrected().stacks[0].compared_errors),
            all_[1],
        ),
    ),
}


def _corrected() -> Alternatives:
    measure = ErrorMeasure(corrected=True)
    answer = solve(SHELF, ONE, error_measure=measure)
    return alternatives(SHELF, ONE, answer, error_measure=measure)


@pytest.mark.parametrize(("rule", "lie"), ALTERNATIVES.values(), ids=ALTERNATIVES)
def test_a_lie_about_alternatives_is_found(rule: str, lie: Liar) -> None:
    told = replace(others(), stacks=lie(others().stacks))
    breaches = verify_alternatives(SHELF, ONE, solve(SHELF, ONE), told)

    assert rule in {breach.rule for breach in breaches}


def test_the_stack_of_the_answer_is_no_alternative() -> None:
    """Nor is it with the other one of two blocks that are alike."""
    answer = solve(SHELF, ONE)
    (stack,) = answer.stacks
    (own,) = (block.id for block in stack.blocks)
    twin = replace(stack.blocks[0], id={"b0": "b1", "b1": "b0"}[own])
    told = Alternatives(
        stacks=(Alternative(rank=1, proven=True, stack=replace(stack, blocks=(twin,))),)
    )

    assert [b.rule for b in verify_alternatives(SHELF, ONE, answer, told)] == ["alternatives"]


@pytest.mark.parametrize("corrected", [False, True])
def test_blocks_off_to_either_side_are_alike_only_where_deviations_are_corrected(
    *, corrected: bool
) -> None:
    """Of equal uncertainty, they stand for one another by variances, and not by mean squares."""
    shelf = [
        Block(id=f"b{off}", nominal=mm("5"), deviation=off, expanded_uncertainty=um("0.03"))
        for off in (um("0.19"), -um("0.25"))
    ]
    measure = ErrorMeasure(kind="expanded_uncertainty", corrected=corrected)
    answer = solve(shelf, ONE, error_measure=measure)
    found = alternatives(shelf, ONE, answer, error_measure=measure)

    assert len(found.stacks) == (0 if corrected else 1)
    assert verify_alternatives(shelf, ONE, answer, found, error_measure=measure) == ()


def test_nothing_is_better_than_what_is_proven_best() -> None:
    """An answer that claims its proof, and an alternative that shows that it has none."""
    answer = solve(SHELF, ONE)
    worse = solve(SHELF, ONE, only=["bad"])
    best = Alternative(rank=1, proven=True, stack=answer.stacks[0])
    breaches = verify_alternatives(SHELF, ONE, worse, Alternatives(stacks=(best,)))

    assert [breach.rule for breach in breaches] == ["ranks"]


def test_there_is_no_stack_where_there_is_said_to_be_none() -> None:
    answer = solve(SHELF, ONE)
    none = solve(SHELF, ONE, only=["b2"])
    told = Alternatives(stacks=(Alternative(rank=1, proven=True, stack=answer.stacks[0]),))

    assert none.outcome == "infeasible"
    assert [b.rule for b in verify_alternatives(SHELF, ONE, none, told)] == ["served bound"]


POINTS: Final[dict[str, tuple[str, PointLiar]]] = {
    "in the wrong order": ("points", lambda all_: all_[::-1]),
    "the same again": ("points", lambda all_: (all_[0], *all_)),
    "a smaller total": (
        "totals",
        lambda all_: (replace(all_[0], total_worst_case_error=0), all_[1]),
    ),
    "without the first": ("points", lambda all_: all_[1:]),
    "without the last": ("points", lambda all_: all_[:1]),
    "none": ("points", lambda _: ()),
    "not proven": ("points", lambda all_: (all_[0], replace(all_[1], proven=False))),
    "fewer served": (
        "points",
        lambda all_: (
            all_[0],
            replace(all_[1], stacks=all_[1].stacks[:2], total_blocks=2),
        ),
    ),
    "a stack too many": (
        "used once",
        lambda all_: (
            replace(
                all_[0],
                stacks=(*all_[0].stacks[:2], replace(all_[0].stacks[0], target="t2")),
            ),
            all_[1],
        ),
    ),
}


@pytest.mark.parametrize(("rule", "lie"), POINTS.values(), ids=POINTS)
def test_a_lie_about_the_trade_off_is_found(rule: str, lie: PointLiar) -> None:
    """By either answer: one knows how few blocks there can be, the other how small an error."""
    found: set[str] = set()
    for objective in OBJECTIVES:
        answer = solve(SHELF, THREE, objective=objective)
        told = replace(traded(), points=lie(traded().points))
        breaches = verify_trade_off(SHELF, THREE, answer, told, objective=objective)
        found |= {breach.rule for breach in breaches}

    assert rule in found
