"""How figures are read: against the rule in words, and never so that a limit is passed."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung.angles import SECOND
from wrung.lengths import QUANTA, AnyUnit, inch, mm, parse, to_text, um
from wrung.rounding import read_angle, read_bound, read_length, read_seconds, read_text

UNITS = st.sampled_from(["mm", "in", "um", "uin"])
LENGTHS = st.integers(-(10**10), 10**10)
LAST_PLACE = {"mm": Decimal("1e-5"), "in": Decimal("1e-6"), "um": Decimal("0.01"),
              "uin": Decimal("0.1")}  # fmt: skip


def exact(quanta: int, unit: AnyUnit) -> Decimal:
    return Decimal(quanta) / QUANTA[unit]


@pytest.mark.parametrize(
    ("quanta", "unit", "text"),
    [
        (2_499_959_801, "mm", "24.9996"),
        (mm("25"), "in", "0.984252"),
        (um("20"), "uin", "787.4"),
        (um("0.00456"), "um", "0.0046"),
        (-1, "mm", "0"),
    ],
)
def test_a_result_has_the_figures_of_a_certificate(quanta: int, unit: AnyUnit, text: str) -> None:
    assert read_length(quanta, unit) == text


def test_a_result_has_no_figures_beyond_its_uncertainty() -> None:
    """Two figures of the uncertainty, and the result to the same place (GUM, 7.2.6)."""
    assert read_length(mm("49.98765"), "mm", uncertainty=um("3.4")) == "49.9876"
    assert read_length(mm("49.98765"), "mm", uncertainty=um("34")) == "49.988"
    assert read_angle(32 * 3600 * SECOND + SECOND // 10, uncertainty=12 * SECOND) == "32°00'00\""


def test_what_was_stated_stays_as_it_is() -> None:
    assert read_length(inch("0.100025"), "mm", "stated") == "2.540635"
    assert read_text("12.50", "in") == "12.50"
    # A third of an inch has no such text; and nobody states ten decimals.
    assert read_length(mm("8.466666"), "in", "stated") == "0.333333"


@pytest.mark.parametrize(
    ("text", "read"),
    [("1.35080", "1.36"), ("0.15802", "0.159"), ("0.05001", "0.05"), ("100.00016", "100"),
     ("787.4016", "788"), ("0.00635", "0.00635"),
     ("12345.6", "12346"), ("2", "2"), ("0", "0")],
)  # fmt: skip
def test_a_bound_has_three_figures_and_is_never_less(text: str, read: str) -> None:
    assert read_bound(um(text), "um") == read


def test_seconds_have_three_figures() -> None:
    assert read_seconds(3_351_000_000) == "3.36"


@given(LENGTHS, UNITS)
def test_limits_are_rounded_inward_by_less_than_a_place(quanta: int, unit: AnyUnit) -> None:
    value = exact(quanta, unit)
    # Small figures have two of their own, which is finer.
    place = LAST_PLACE[unit]

    assert value <= Decimal(read_length(quanta, unit, "least")) < value + place
    assert value - place < Decimal(read_length(quanta, unit, "most")) <= value


@given(LENGTHS, UNITS)
def test_results_and_stated_figures_are_off_by_half_a_place_at_most(
    quanta: int, unit: AnyUnit
) -> None:
    for rounding in ("result", "stated"):
        read = Decimal(read_length(quanta, unit, rounding))
        assert abs(read - exact(quanta, unit)) <= LAST_PLACE[unit] / 2


@given(st.integers(1, 10**10), UNITS)
def test_no_bound_is_read_smaller_or_a_hundredth_larger(quanta: int, unit: AnyUnit) -> None:
    value, read = exact(quanta, unit), Decimal(read_bound(quanta, unit))

    # But for a quantum, and what two standard deviations are less than 95.45 %.
    assert value * Decimal("0.999998") - exact(1, unit) <= read <= value * Decimal("1.01")
    assert len(read.normalize().as_tuple().digits) <= 3 or read == int(read)


@given(st.integers(0, 10**6).map(lambda each: f"{each / 10**6:.6f}"))
def test_nominal_lengths_of_a_nanometre_come_back(text: str) -> None:
    assert parse(read_length(mm(text), "mm", "stated"), "mm") == mm(text)
    assert read_length(mm(text), "mm", "stated") == to_text(mm(text), "mm")
