"""A stack built by hand, and the better one the planner finds."""

from datetime import date

import pytest
from msgspec import structs

from wrung import LengthTarget, solve
from wrung.blocks import Block
from wrung.calibrations import Calibration
from wrung.errors import InputError
from wrung.lengths import mm, um
from wrung.metrology.conditions import Conditions
from wrung.metrology.readings import Instrument
from wrung.metrology.stack_check import StackCheck, better_stacks, check_stack


def certified(nominal: str, deviation: str = "0", due: date | None = None) -> Block:
    return Block(
        id=nominal,
        nominal=mm(nominal),
        deviation=um(deviation),
        expanded_uncertainty=um("0.06"),
        material="steel",
        calibration=Calibration(certificate="4711", due_on=due),
    )


WEAR = Block(id="wear", nominal=mm("2"), grade="1", role="wear")
# The NPL's question and answer page on gauge blocks builds 58.345 mm of five blocks by digits; four
# are enough (worked out by hand).
SHELF = (
    *(certified(nominal) for nominal in ("1.005", "1.04", "1.3", "1.34", "5", "6", "50")),
    certified("10", due=date(2026, 1, 1)),
    WEAR,
)
BY_DIGITS = ("1.005", "1.04", "1.3", "5", "50")
TARGET = mm("58.345")


def check(*ids: str, target: int = TARGET, on: date | None = None) -> StackCheck:
    caliper = Instrument(name="caliper", resolution=mm("0.01"))
    conditions = Conditions(used_on=on)
    return check_stack(SHELF, ids, target, conditions=conditions, instruments=[caliper])


def test_a_sound_stack() -> None:
    found = check(*BY_DIGITS)

    assert found.passed
    assert (found.nominal, found.joints, found.nominal_error) == (TARGET, 4, 0)
    assert found.worst_case_error == um("0.30") + 4 * 2540
    assert [found.readings[0].lowest, found.readings[0].highest] == [mm("58.34"), mm("58.35")]


def test_a_wrong_block_shows_in_the_sum() -> None:
    """5 mm taken for 6 mm."""
    found = check("1.005", "1.34", "5", "50")

    assert found.nominal_error == -mm("1")
    assert not found.passed
    assert found.worst_case_error > mm("1")


def test_a_block_named_twice() -> None:
    found = check("5", "50", "5", target=mm("60"))

    assert found.duplicate_blocks == ("5",)
    assert not found.passed


def test_a_wear_block_inside_the_stack() -> None:
    assert check("5", "wear", "50", target=mm("57")).misplaced_wear_blocks == ("wear",)
    assert check("wear", "5", "50", target=mm("57")).misplaced_wear_blocks == ()


@pytest.mark.parametrize(
    ("stack", "misplaced"),
    [
        ("50 5 w1 w2", ()),
        ("w1 50 5 w2", ()),
        ("50 w1 5 w2", ("w1",)),
        ("w1 50 w2 w3", ("w2",)),
        ("50 w1 w2 w3", ("w1",)),
    ],
)
def test_a_stack_may_be_named_in_wringing_order(stack: str, misplaced: tuple[str, ...]) -> None:
    """Two wear blocks that come last were wrung onto both ends."""
    blocks = [*SHELF, *(structs.replace(WEAR, id=f"w{k}") for k in (1, 2, 3))]

    found = check_stack(blocks, stack.split(), mm("100"))

    assert found.misplaced_wear_blocks == misplaced


def test_an_overdue_block() -> None:
    before, after = (check("10", target=mm("10"), on=date(2026, 1, day)) for day in (1, 2))

    assert before.overdue_blocks == ()
    assert [each.id for each in after.overdue_blocks] == ["10"]
    assert not after.passed


@pytest.mark.parametrize(
    ("ids", "pointer"), [((), "/stack"), (("5", "51"), "/stack/1"), (("x", "5"), "/stack/0")]
)
def test_unknown_blocks_are_refused(ids: tuple[str, ...], pointer: str) -> None:
    with pytest.raises(InputError) as caught:
        check(*ids)

    assert [fault.pointer for fault in caught.value.faults] == [pointer]


class TestBetter:
    def test_fewer_blocks_are_found(self) -> None:
        answer = solve(SHELF, [LengthTarget(ref="t", length=TARGET)])

        (better,) = better_stacks(check(*BY_DIGITS), [answer])

        assert len(better.stack.blocks) == 4
        assert better.improvements == ("fewer_blocks", "smaller_error")

    def test_the_best_stack_has_no_better(self) -> None:
        answers = [
            solve(SHELF, [LengthTarget(ref="t", length=TARGET)], objective=objective)
            for objective in ("fewest_blocks", "least_error")
        ]
        best = [block.id for block in answers[0].stacks[0].blocks]

        assert better_stacks(check(*best), answers) == ()

    def test_anything_of_the_right_length_is_better_than_a_wrong_one(self) -> None:
        answer = solve(SHELF, [LengthTarget(ref="t", length=TARGET)])

        (better,) = better_stacks(check("1.005", "1.34", "5", "50"), [answer])

        assert better.improvements == ("correct_length", "smaller_error")

    def test_one_stack_found_twice_is_told_once(self) -> None:
        answer = solve(SHELF, [LengthTarget(ref="t", length=TARGET)])

        assert len(better_stacks(check(*BY_DIGITS), [answer, answer])) == 1

    def test_no_stack_no_better(self) -> None:
        answer = solve(SHELF, [LengthTarget(ref="t", length=mm("3.3"))])

        assert better_stacks(check("5", target=mm("3.3")), [answer]) == ()
