"""Guard bands that are found from the uncertainty of the stacks, without the service."""

from wrung import (
    FitTarget,
    GaugeSet,
    LengthTarget,
    LimitsTarget,
    mm,
    solve,
    solve_with_guard_bands,
    um,
    verify,
)
from wrung.metrology import Conditions
from wrung.metrology.quantities import rectangular
from wrung.targets import LimitsResult, results

SHELF = GaugeSet(id="K", composition="metric-112-1", grade="2").blocks()
SLOT = LimitsTarget(
    ref="slot",
    lower=mm("40"),
    upper=mm("40.025"),
    rounded_to=mm("0.001"),
    guard_by_uncertainty=True,
)
AMPLE_MS = 60_000


def test_the_stacks_lie_inside_by_their_own_uncertainty() -> None:
    beside = LengthTarget(ref="beside", length=mm("7"))
    found = solve_with_guard_bands(SHELF, (SLOT, beside), time_limit_ms=AMPLE_MS)
    (said, _) = results(found.targets, found.answer, SHELF)

    assert isinstance(said, LimitsResult)
    assert said.limits.guard_covers_uncertainty
    assert all((gauge.moved_inward or 0) >= um("0.5") for gauge in said.limits.gauges)
    assert verify(SHELF, found.targets, found.answer) == ()
    assert found.targets[1] is beside


def test_a_warm_part_needs_a_wider_one() -> None:
    """The guard band is that of the conditions of use: a difference to 20 degrees counts."""
    warm = Conditions(temperature=rectangular(23.0, 5.0))
    found = [
        solve_with_guard_bands(SHELF, (SLOT,), conditions=each, time_limit_ms=AMPLE_MS)
        for each in (Conditions(), warm)
    ]
    bands = [
        each.guard_band or 0
        for each in (*found[0].targets, *found[1].targets)
        if isinstance(each, LimitsTarget)
    ]

    assert 0 < bands[0] < bands[1]


def test_targets_that_ask_for_none_are_answered_as_by_solve() -> None:
    shaft = FitTarget(ref="shaft", nominal=mm("20"), tolerance_class="h7")
    found = solve_with_guard_bands(SHELF, (shaft,), time_limit_ms=AMPLE_MS)

    assert found.targets == (shaft,)
    assert found.answer.stacks == solve(SHELF, (shaft,), time_limit_ms=AMPLE_MS).stacks
