"""What an embedder writes. This file only has to type-check; it is never run."""

from datetime import UTC, datetime
from typing import assert_type

from wrung import (
    DEFAULT_JOINT_ALLOWANCE,
    Alternatives,
    Answer,
    Block,
    BlockChanges,
    Bounds,
    Breach,
    Cancel,
    Coverage,
    Diagnostics,
    GaugeSet,
    InputError,
    LengthError,
    LengthGrid,
    LengthTarget,
    Nearest,
    Objective,
    Outcome,
    PlacedBlock,
    Requirement,
    Shortage,
    Stack,
    Target,
    Tolerance,
    TradeOff,
    Unit,
    Unmet,
    UnmetReason,
    Wanted,
    WrungError,
    alternatives,
    coverage_of,
    inch,
    mm,
    solve,
    to_text,
    trade_off,
    uin,
    um,
    verify,
    verify_alternatives,
    verify_trade_off,
)
from wrung.checker.coverage import verify_coverage
from wrung.coverage.picture import draw


def blocks_and_targets() -> tuple[list[Block], list[Target]]:
    """Lengths are whole numbers; everything is given by name."""
    unit: Unit = "mm"
    certified = Block(
        id="a",
        nominal=mm("1.005"),
        deviation=um("-0.12"),
        expanded_uncertainty=um("0.05"),
        unit=unit,
    )
    graded = Block(id="b", nominal=inch("0.1001"), grade="AS-1", unit="in", role="wear")
    shelf = [certified, graded, *GaugeSet(id="s", composition="inch-81", grade="0").blocks()]
    target = LengthTarget(
        ref="op20",
        length=inch("1.3507"),
        tolerance=Tolerance(lower=uin("-50"), upper=0),
        max_blocks=5,
        wear_blocks="both",
        needed_from=datetime(2030, 1, 7, 6, tzinfo=UTC),
    )
    assert_type(target.requirements(), tuple[Requirement, ...])
    return shelf, [target]


def what_is_covered(cancel: Cancel) -> str:
    """A survey, and its drawing."""
    shelf, _ = blocks_and_targets()
    grid = LengthGrid(start=mm("1"), stop=mm("25"), step=mm("0.001"))
    found = coverage_of(shelf, grid, offers=[Wanted(nominal=mm("3"))], cancel=cancel)
    assert_type(found, Coverage)
    assert_type(verify_coverage(shelf, found), tuple[Breach, ...])
    return draw(found.grid, found.reach, unit="mm") if found.reach else ""


def the_main_job(cancel: Cancel) -> Answer:
    """Every option by name, every result a named thing."""
    shelf, targets = blocks_and_targets()
    objective: Objective = "least_error"
    answer = solve(
        shelf,
        targets,
        objective=objective,
        joint_allowance=DEFAULT_JOINT_ALLOWANCE,
        exclude={"a"},
        only=None,
        time_limit_ms=500,
        cancel=cancel,
    )
    assert_type(answer, Answer)
    assert_type(verify(shelf, targets, answer, objective=objective), tuple[Breach, ...])
    return answer


def what_else_there_is(answer: Answer) -> list[Stack]:
    """With the options of the main job; each result can be checked as an answer can."""
    shelf, targets = blocks_and_targets()
    others = alternatives(shelf, targets, answer, count=3, exclude={"a"}, time_limit_ms=500)
    assert_type(others, Alternatives)
    checked = verify_alternatives(shelf, targets, answer, others, exclude={"a"})
    assert_type(checked, tuple[Breach, ...])
    traded = trade_off(shelf, targets, answer, objective="least_error", cancel=Cancel())
    assert_type(traded, TradeOff)
    verify_trade_off(shelf, targets, answer, traded, objective="least_error")
    plans = [stack for point in traded.points for stack in point.stacks]
    return [*plans, *(each.stack for each in others.stacks)]


def reading_an_answer(answer: Answer) -> str:
    """What is optional is typed as such."""
    assert_type(answer.outcome, Outcome)
    assert_type(answer.bounds, Bounds)
    assert_type(answer.bounds.total_blocks, int | None)
    assert_type(answer.diagnostics, Diagnostics)
    assert_type(answer.changes, BlockChanges | None)
    assert_type(answer.shortage, Shortage | None)
    for stack in answer.stacks:
        assert_type(stack, Stack)
        assert_type(stack.blocks, tuple[PlacedBlock, ...])
    for entry in answer.unmet:
        assert_type(entry, Unmet)
        assert_type(entry.reason, UnmetReason)
        assert_type(entry.nearest_below, Nearest | None)
    added: tuple[Wanted, ...] = () if answer.shortage is None else answer.shortage.blocks_to_add
    return ", ".join(to_text(block.nominal, block.unit) for block in added)


def catching() -> WrungError | None:
    """Both exceptions have one base; faults have pointers."""
    try:
        the_main_job(Cancel())
    except InputError as error:
        assert_type([fault.pointer for fault in error.faults], list[str])
        return error
    except LengthError as error:
        return error
    return None
