"""Check points: what they are, that they follow one another, and the record sheet."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solver.targets.conftest import MakeStack
from solver.targets.faulty import pointers
from wrung import GaugeSet, solve, verify
from wrung.lengths import mm, um
from wrung.targets import CheckPointsTarget, LengthTarget, Target
from wrung.testing import make_blocks
from wrung.texts import word

START = datetime(2030, 1, 7, 6, tzinfo=UTC)


def test_a_higher_range_is_set_at_its_lower_end_first() -> None:
    target = CheckPointsTarget(ref="m", series="metric-0.5", range_from=mm("50"))

    first, second, *_ = target.requirements()

    assert (first.role, first.length) == ("lower_end", mm("50"))
    assert (second.role, second.length) == ("point_1", mm("52.5"))


def test_an_own_list_is_taken_as_it_is() -> None:
    target = CheckPointsTarget(ref="m", points=(mm("3"), mm("7")), range_from=mm("1"))

    assert [r.length for r in target.requirements()] == [mm("3"), mm("7")]


@pytest.mark.parametrize(
    ("target", "at"),
    [
        (CheckPointsTarget(ref="m"), {"/series"}),
        (CheckPointsTarget(ref="m", series="metric-0.5", points=(5,)), {"/series"}),
        (CheckPointsTarget(ref="m", series="nothing"), {"/series"}),
        (CheckPointsTarget(ref="m", points=(5, 0)), {"/points/1"}),
        (CheckPointsTarget(ref="m", pitch=mm("1")), {"/travel"}),
        (CheckPointsTarget(ref="m", pitch=mm("1"), travel=mm("9")), {"/travel"}),
        (CheckPointsTarget(ref="m", pitch=0, travel=mm("9")), {"/pitch"}),
        (CheckPointsTarget(ref="m", series="metric-0.5", range_from=-1), {"/range_from"}),
    ],
)
def test_faults(target: CheckPointsTarget, at: set[str]) -> None:
    assert pointers(target) == at


@pytest.mark.parametrize(
    ("target", "limited"),
    [
        (CheckPointsTarget(ref="m", points=(mm("2.5"), mm("22.8"))), False),
        (CheckPointsTarget(ref="m", points=(mm("2.5"), mm("25"))), True),
        (CheckPointsTarget(ref="m", points=(mm("2.5"), mm("22.8")), travel=mm("25")), True),
        (CheckPointsTarget(ref="m", points=(mm("9"),), permissible_error=um("4")), True),
        (CheckPointsTarget(ref="m", pitch=mm("1"), travel=mm("30")), False),
        (CheckPointsTarget(ref="m", points=(mm("9"),), instrument="fine_caliper"), True),
        (CheckPointsTarget(ref="m", points=(mm("9"),), instrument="dial_indicator"), False),
    ],
)
def test_a_range_without_a_limit_of_error_is_not_passed_over(
    target: CheckPointsTarget,
    limited: bool,  # noqa: FBT001
) -> None:
    """DIN 863-1 has limits for ranges of 25 mm; ISO 3611 leaves them to the maker (from memory)."""
    found = target.results([])

    said = [word(each) for each in found.remarks if each.key == "check.no_limits"]
    assert bool(said) is not limited
    assert all("measuring range from 0 mm to" in each for each in said)
    if limited:
        assert all(row.permissible_error for row in found.rows)


def test_the_record_sheet(make_stack: MakeStack) -> None:
    target = CheckPointsTarget(ref="m", series="metric-0.5")
    stack = make_stack("m/point_2", mm("5.1"), deviation=um("0.1"), margin=um("0.7"))

    found = target.results([stack])

    assert [row.point for row in found.rows[:3]] == [0, mm("2.5"), mm("5.1")]
    assert {row.permissible_error for row in found.rows} == {um("4")}
    assert [row.stack is not None for row in found.rows] == [False, False, True] + [False] * 8
    # ±4 µm over ±0.8 µm: both are half of a width.
    assert float(found.test_uncertainty_ratio or 0) == pytest.approx(5, abs=0.011)
    assert [said.key for said in found.remarks] == ["ratio.worst_case"]


def test_one_block_serves_for_every_point_of_a_sequence() -> None:
    """Side by side these would need the 25 three times."""
    blocks = make_blocks("25 1 2 5")
    points = CheckPointsTarget(ref="m", points=(mm("26"), mm("27"), mm("30")))

    answer = solve(blocks, [points])

    assert answer.outcome == "optimal"
    assert answer.total_blocks == 6
    assert verify(blocks, [points], answer) == ()


def test_other_stacks_never_share_a_block_with_a_point() -> None:
    blocks = make_blocks("25 1 2")
    points = CheckPointsTarget(ref="m", points=(mm("26"), mm("27")))

    answer = solve(blocks, [points, LengthTarget(ref="x", length=mm("25"))])

    assert answer.outcome == "partial"
    assert verify(blocks, [points, LengthTarget(ref="x", length=mm("25"))], answer) == ()


def test_two_sequences_at_one_time_share_no_block_at_any_step() -> None:
    """Any point of the one may stand beside any point of the other."""
    one = CheckPointsTarget(ref="m", points=(mm("26"), mm("27")))
    two = CheckPointsTarget(ref="n", points=(mm("27"), mm("26")))

    short = solve(make_blocks("25 1 2"), [one, two])
    full = solve(make_blocks("25 1 2 25 1 2"), [one, two])

    assert len(short.stacks) == 2
    assert full.outcome == "optimal"
    assert verify(make_blocks("25 1 2 25 1 2"), [one, two], full) == ()


def test_sequences_at_other_times_may_share_all() -> None:
    blocks = make_blocks("25 1 2")
    targets = [
        CheckPointsTarget(
            ref=ref,
            points=(mm("26"), mm("27")),
            needed_from=START + timedelta(hours=hour),
            needed_until=START + timedelta(hours=hour + 1),
        )
        for ref, hour in (("m", 0), ("n", 1))
    ]

    answer = solve(blocks, targets)

    assert answer.outcome == "optimal"
    assert verify(blocks, targets, answer) == ()


def test_many_sequences_at_one_time_have_their_stacks() -> None:
    """Six of ten points: a million choices of which stand together, none of which is made."""
    many = [CheckPointsTarget(ref=f"m{k}", series="metric-0.5") for k in range(6)]
    blocks = GaugeSet(id="s", composition="metric-112-1", grade="1").blocks()

    answer = solve(blocks, many, time_limit_ms=500)

    assert len(answer.stacks) > 50
    assert verify(blocks, many, answer) == ()


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.sampled_from(["1", "2", "3", "4", "5", "8"]), min_size=3, max_size=7),
    st.lists(st.integers(2, 12), min_size=1, max_size=3, unique=True),
    st.lists(st.integers(2, 12), min_size=0, max_size=2, unique=True),
    st.integers(2, 12),
)
def test_as_many_points_are_served_as_an_exhaustive_search_serves(
    shelf: list[str], first: list[int], second: list[int], alone: int
) -> None:
    """Two sequences and a plain stack from a small shelf, every way to choose tried."""
    blocks = make_blocks(" ".join(shelf))
    targets: list[Target] = [LengthTarget(ref="x", length=mm(str(alone)))]
    for ref, points in (("m", first), ("n", second)):
        if points:
            lengths = tuple(mm(str(point)) for point in points)
            targets.append(CheckPointsTarget(ref=ref, points=lengths))

    answer = solve(blocks, targets)

    assert verify(blocks, targets, answer) == ()
    assert len(answer.stacks) == _most_served([int(text) for text in shelf], first, second, alone)


def _most_served(shelf: list[int], first: list[int], second: list[int], alone: int) -> int:
    """By giving each block to one of the three, in every way."""
    best = 0
    for owners in range(3 ** len(shelf)):
        piles: list[list[int]] = [[], [], []]
        for place, size in enumerate(shelf):
            piles[owners // 3**place % 3].append(size)
        served = (
            sum(_sums_to(piles[0], point) for point in first)
            + sum(_sums_to(piles[1], point) for point in second)
            + _sums_to(piles[2], alone)
        )
        best = max(best, served)
    return best


def _sums_to(sack: list[int], wanted: int) -> bool:
    sums = {0}
    for size in sack:
        sums |= {total + size for total in sums}
    return wanted in sums


@pytest.mark.parametrize(("series", "from_memory"), [("metric-0.5", False), ("inch-0.025", True)])
def test_points_from_memory_are_remarked(series: str, from_memory: bool) -> None:  # noqa: FBT001
    found = CheckPointsTarget(ref="m", series=series).results(())

    assert [said.key for said in found.remarks] == ["check.from_memory"] * from_memory
