"""What is refused and where, what is offered by default, and what happens when the time is up."""

from typing import Any

import pytest

from solver.standing_still import AMPLE_MS, Clock
from wrung import Cancel, GaugeSet, InputError, coverage_of, inch, mm
from wrung.answers import Wanted
from wrung.blocks import Block
from wrung.coverage import LengthGrid, surveying
from wrung.deadline import Deadline, limits
from wrung.testing import make_blocks

TO_3 = LengthGrid(start=mm("1"), stop=mm("3"), step=mm("0.001"))


def millimetres(start: str, stop: str, step: str) -> LengthGrid:
    return LengthGrid(start=mm(start), stop=mm(stop), step=mm(step))


@pytest.mark.parametrize(
    ("grid", "options", "pointers"),
    [
        (millimetres("0", "3", "1"), {}, ["/range/start"]),
        (millimetres("1", "3", "0"), {}, ["/range/step"]),
        (millimetres("1", "0.5", "1"), {}, ["/range/stop"]),
        (LengthGrid(start=1, stop=mm("10000") + 1, step=mm("1")), {}, ["/range/stop"]),
        (millimetres("1", "3", "0.000001"), {}, ["/range/step"]),
        (LengthGrid(start=1, stop=10**40, step=1), {}, ["/range/stop", "/range/step"]),
        (TO_3, {"max_blocks": 0}, ["/max_blocks"]),
        (TO_3, {"exclude": ["b9"]}, ["/exclude/0"]),
        (TO_3, {"only": ["b0", "b9"]}, ["/only/1"]),
        (TO_3, {"time_limit_ms": 0}, ["/time_limit_ms"]),
        (TO_3, {"offers": [Wanted(nominal=1), Wanted(nominal=0)]}, ["/offers/1/nominal"]),
        (TO_3, {"offers": [Wanted(nominal=mm("1"))] * 1001}, ["/offers"]),
        (
            millimetres("0", "3", "0"),
            {"max_blocks": 0},
            ["/range/start", "/range/step", "/max_blocks"],
        ),
    ],
)
def test_what_makes_no_sense_is_pointed_at(
    grid: LengthGrid, options: dict[str, Any], pointers: list[str]
) -> None:
    with pytest.raises(InputError) as caught:
        coverage_of(make_blocks("1 2"), grid, **options)

    assert [fault.pointer for fault in caught.value.faults] == pointers


def test_a_block_that_leaves_no_usable_step_is_pointed_at() -> None:
    """100 mm in steps of 0.01 nm are more sums than anybody can look at."""
    blocks = make_blocks("1 1.00000001 2 50 60")

    with pytest.raises(InputError) as caught:
        coverage_of(blocks, millimetres("1", "100", "1"))

    (fault,) = caught.value.faults
    assert fault.pointer == "/blocks/1"
    assert "leave it out" in fault.detail
    assert coverage_of(blocks, millimetres("1", "100", "1"), exclude=["b1"]).reach


def test_an_offer_that_leaves_no_usable_step_is_pointed_at() -> None:
    offers = [Wanted(nominal=mm("3")), Wanted(nominal=mm("2.00000001"))]

    with pytest.raises(InputError) as caught:
        coverage_of(make_blocks("1 20 50"), millimetres("1", "100", "1"), offers=offers)

    assert [fault.pointer for fault in caught.value.faults] == ["/offers/1"]


def test_a_range_that_no_single_block_is_to_blame_for_is_pointed_at() -> None:
    """A whole inch set and a whole metric one share steps of 20 nm only."""
    blocks = [
        *GaugeSet(id="m", composition="metric-112", grade="1").blocks(),
        *GaugeSet(id="i", composition="inch-81", grade="AS-1").blocks(),
    ]

    with pytest.raises(InputError) as caught:
        coverage_of(blocks, millimetres("1", "200", "0.001"))

    (fault,) = caught.value.faults
    assert fault.pointer == "/range/stop"
    assert "0.02 µm" in fault.detail
    short = coverage_of(blocks, millimetres("1", "5", "0.001"), time_limit_ms=60_000)
    assert short.outcome == "complete"


def test_inch_and_metric_blocks_in_one_stack() -> None:
    """0.5 in and 1.3 mm make 14 mm; without either there is nothing."""
    blocks = [
        *make_blocks("1.3"),
        Block(id="half", nominal=inch("0.5"), limit_deviation=1, unit="in"),
    ]

    found = coverage_of(blocks, millimetres("13", "15", "0.5"))

    assert found.reach
    assert found.reach.fewest == bytes([0, 0, 2, 0, 0])


def test_usual_offers_are_what_the_set_lacks_and_one_more_of_each() -> None:
    """The longest blocks, 30 to 100 mm, are of no use here and are not offered."""
    shelf = GaugeSet(id="m", composition="metric-46", grade="1", missing=(mm("1.005"),)).blocks()

    found = coverage_of(shelf, millimetres("3", "20", "0.001"))

    assert found.additions
    assert found.additions.single_blocks[0].blocks == (Wanted(nominal=mm("1.005")),)
    assert found.additions.blocks_compared == 46 - 8 - 1 + 1


def test_usual_offers_that_need_a_step_too_fine_are_not_made() -> None:
    """Fifty blocks of 100 mm: what a set of them lacks would make ten million sums."""
    shelf = make_blocks(" ".join(["100"] * 50 + ["50", "0.5"]))

    found = coverage_of(shelf, millimetres("50", "5050", "25"))

    assert found.outcome == "complete"
    assert found.additions
    assert found.additions.single_blocks
    for addition in found.additions.single_blocks:
        assert addition.blocks[0].nominal % mm("0.5") == 0
    assert found.additions.single_blocks[0].blocks[0].nominal % mm("25") == 0


def test_nothing_on_the_shelf_builds_nothing() -> None:
    found = coverage_of([], TO_3)

    assert found.reach
    assert (found.outcome, found.reach.buildable_count, found.reach.gap_count) == ("complete", 0, 1)
    assert found.losses == ()
    assert found.additions
    assert (found.additions.single_blocks, found.additions.best_pair) == ((), None)


def test_an_empty_shelf_that_is_offered_two_blocks() -> None:
    offers = [Wanted(nominal=mm("1")), Wanted(nominal=mm("1.5"))]

    found = coverage_of([], TO_3, offers=offers)

    assert found.additions
    assert [addition.lengths_gained for addition in found.additions.single_blocks] == [1, 1]
    assert found.additions.best_pair
    assert (
        found.additions.best_pair.lengths_gained,
        found.additions.best_pair.lengths_with_fewer_blocks,
    ) == (3, 0)


def test_of_equal_additions_the_shortest_is_named() -> None:
    """Any one of 2, 4 and 8 mm restores one length with 16 mm; any two of them three."""
    offers = [Wanted(nominal=mm(text)) for text in ("8", "4", "2")]

    found = coverage_of(make_blocks("16"), millimetres("16.5", "30", "0.5"), offers=offers)

    assert found.additions
    restored = [(a.blocks[0].nominal, a.lengths_gained) for a in found.additions.single_blocks]
    assert restored == [(mm("2"), 1), (mm("4"), 1), (mm("8"), 1)]
    assert found.additions.best_pair
    assert {block.nominal for block in found.additions.best_pair.blocks} == {mm("2"), mm("4")}
    assert found.additions.best_pair.lengths_gained == 3


DECOYS = "149 148.5 134 134.5 149.5 150 133 133.5"
"""Each restores one length or two from 140 to 150 mm; 70 and 72 mm none alone, eight together."""


@pytest.mark.parametrize(
    "offered",
    [
        f"{DECOYS} 73 72 70",
        # These two restore eight as well, but are longer.
        f"147 136 {DECOYS} 73 72 70",
    ],
)
def test_two_that_help_only_together_are_found_behind_many_that_help_alone(offered: str) -> None:
    """70 and 73 mm would do as much, and are longer."""
    offers = [Wanted(nominal=mm(text)) for text in offered.split()]

    found = coverage_of(make_blocks("1 2 4"), millimetres("140", "150", "0.5"), offers=offers)

    assert found.additions
    assert found.additions.best_pair_proven
    two = found.additions.best_pair
    assert two
    assert {block.nominal for block in two.blocks} == {mm("70"), mm("72")}
    assert two.lengths_gained == 8
    assert two.blocks[0] not in {
        block for one in found.additions.single_blocks for block in one.blocks
    }


def test_one_offer_twice_makes_a_pair() -> None:
    offers = [Wanted(nominal=mm("1"))] * 2

    twice = coverage_of(make_blocks("5"), millimetres("6", "7", "1"), offers=offers).additions
    once = coverage_of(make_blocks("5"), millimetres("6", "7", "1"), offers=offers[:1]).additions

    assert twice
    assert twice.best_pair
    assert (
        twice.blocks_compared,
        twice.single_blocks[0].lengths_gained,
        twice.best_pair.lengths_gained,
    ) == (2, 1, 2)
    assert once
    assert once.best_pair is None


def test_runs_and_gaps_are_written_out_as_far_as_asked() -> None:
    """From 1, 2 and 4 mm every whole millimetre up to 7, and nothing between."""
    found = coverage_of(make_blocks("1 2 4"), millimetres("1", "9", "0.5"), max_runs=3, max_gaps=1)

    assert found.reach
    assert (found.reach.run_count, found.reach.gap_count) == (14, 7)
    assert [run.buildable for run in found.reach.runs] == [True, False, True]
    (gap,) = found.reach.gaps
    assert (gap.first, gap.last, gap.length_count) == (mm("7.5"), mm("9"), 4)


def test_a_cancelled_survey_knows_nothing() -> None:
    cancel = Cancel()
    cancel.cancel()

    found = coverage_of(make_blocks("1 2"), TO_3, cancel=cancel)

    assert (found.outcome, found.reach, found.losses, found.additions) == (
        "unknown",
        None,
        None,
        None,
    )


def test_a_machine_that_stood_still_does_not_make_a_small_survey_unknown(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    whole, clock = coverage_of(make_blocks("1 2"), TO_3), Clock(monkeypatch)

    def over(*given: Any) -> Deadline:  # noqa: ANN401 - as `limits` takes them
        deadline = limits(*given)
        clock.stand_still(deadline)
        return deadline

    monkeypatch.setattr(surveying, "limits", over)
    found = coverage_of(make_blocks("1 2"), TO_3, time_limit_ms=AMPLE_MS)

    assert (found.outcome, found.reach) == ("partial", whole.reach)


class CancelsAfter(Cancel):
    """Is cancelled once it was asked so often."""

    def __init__(self, times: int) -> None:
        super().__init__()
        self._left = times

    @property
    def cancelled(self) -> bool:
        self._left -= 1
        return self._left < 0


@pytest.mark.parametrize("times", range(0, 60, 3))
def test_whatever_is_there_when_the_time_ends_is_true(times: int) -> None:
    """Ended at any point: what is told is what is told without an end, or weaker and so marked."""
    blocks, grid = make_blocks("1 1.001 1.002 1.01 1.5 2"), millimetres("1", "8", "0.001")
    offers = [Wanted(nominal=mm(text)) for text in ("1.003", "1.02", "3", "4")]
    whole = coverage_of(blocks, grid, offers=offers)

    found = coverage_of(blocks, grid, offers=offers, cancel=CancelsAfter(times))

    assert found.reach in (None, whole.reach)
    assert found.losses in (None, whole.losses)
    assert (found.outcome == "unknown") == (found.reach is None)
    if found.additions:
        assert whole.additions
        assert found.additions.single_blocks == whole.additions.single_blocks
        assert (found.outcome == "complete") == found.additions.best_pair_proven
        if found.additions.best_pair_proven:
            assert found == whole or found.additions == whole.additions
    else:
        assert found.outcome != "complete"
