"""Sine bars against the constants that handbooks print, textbook examples, and mpmath."""

import mpmath  # type: ignore[import-untyped]  # has no type information
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung import GaugeSet, inch, mm, solve, uin, um
from wrung.angles import DEGREE, SECOND, angle
from wrung.answers import Stack
from wrung.lengths import to_text
from wrung.targets import SineBar, SineResult, SineTarget

FIVE_INCH = SineBar(centre_distance=inch("5"))
HUNDRED = SineBar(centre_distance=mm("100"))

# Constants of a 5 in and a 100 mm sine bar, as handbooks print them to 5 decimals; from memory, and
# each is the exact sine, rounded.
CONSTANTS = {
    "1": ("0.08726", "1.74524"),
    "5": ("0.43578", "8.71557"),
    "10": ("0.86824", "17.36482"),
    "15": ("1.29410", "25.88190"),
    "20": ("1.71010", "34.20201"),
    "22.5": ("1.91342", "38.26834"),
    "25": ("2.11309", "42.26183"),
    "27": ("2.26995", "45.39905"),
    "30": ("2.50000", "50.00000"),
    "33°15'": ("2.74147", "54.82932"),
    "35": ("2.86788", "57.35764"),
    "37.5": ("3.04381", "60.87614"),
    "40": ("3.21394", "64.27876"),
    "45": ("3.53553", "70.71068"),
    "60": ("4.33013", "86.60254"),
}

# Seconds for 1 µm of height on 100 mm, computed by hand: 206265 / (100 000 cos a).
SECONDS_FOR_A_MICROMETRE = {"1": 2.06, "5": 2.07, "10": 2.09, "15": 2.135, "30": 2.382,
                            "45": 2.917, "60": 4.125, "75": 7.969}  # fmt: skip


@pytest.mark.parametrize("text", CONSTANTS)
def test_heights_are_the_printed_constants(text: str) -> None:
    on_five_inch, on_hundred = CONSTANTS[text]

    assert abs(FIVE_INCH.height(angle(text)) - inch(on_five_inch)) <= inch("0.000005")
    assert abs(HUNDRED.height(angle(text)) - mm(on_hundred)) <= mm("0.000005")


@pytest.mark.parametrize("text", SECONDS_FOR_A_MICROMETRE)
def test_sensitivity(text: str) -> None:
    printed = SECONDS_FOR_A_MICROMETRE[text]

    assert float(HUNDRED.sensitivity(angle(text))) == pytest.approx(printed, abs=0.0051)


@pytest.mark.parametrize(("text", "degrees"), [("30", 0.00132), ("60", 0.00229)])
def test_what_a_tenth_of_a_thou_is_worth_on_five_inches(text: str, degrees: float) -> None:
    """A text on the web (Nemotron-CC-Math, "Sine Bar Question") works out both figures."""
    wanted = angle(text)
    reached = FIVE_INCH.angle(FIVE_INCH.height(wanted) + inch("0.0001"))

    assert reached is not None
    assert (reached - wanted) / DEGREE == pytest.approx(degrees, abs=0.000005)


@given(st.integers(1, 90 * 3600 * 100 - 1), st.integers(10, 10_000))
def test_heights_are_right_to_the_quantum(hundredths: int, centre_distance: int) -> None:
    """Against mpmath, at hundredths of a second, for centre distances of 10 mm to 10 m."""
    bar = SineBar(centre_distance=mm(str(centre_distance)))
    wanted = hundredths * SECOND // 100
    with mpmath.workdps(50):
        exact = bar.centre_distance * mpmath.sin(mpmath.radians(mpmath.mpf(wanted) / DEGREE))

        assert abs(bar.height(wanted) - exact) <= mpmath.mpf("0.5")


@given(st.integers(1, 89 * 3600))
def test_the_angle_of_a_height_is_the_angle_again(seconds: int) -> None:
    wanted = seconds * SECOND

    reached = HUNDRED.angle(HUNDRED.height(wanted))

    # Half a quantum of height is 1.03e-5 seconds on 100 mm, over the cosine.
    assert reached is not None
    assert abs(reached - wanted) <= 1.04e-5 * SECOND / mpmath.cos(mpmath.radians(seconds / 3600))


def build(target: SineTarget) -> tuple[Stack, SineResult]:
    shelf = GaugeSet(id="s", composition="inch-81", grade="AS-1").blocks()
    answer = solve(shelf, [target], joint_allowance=0)
    return answer.stacks[0], target.results(answer.stacks)


@pytest.mark.parametrize(
    ("text", "height", "most"),
    [
        # FAQ "How is the necessary gauge block height calculated when using sine bars" (on the
        # web, higherprecision.com): 2.270 in. An 81 block set has it in four blocks or fewer.
        ("27", "2.27", 4),
        # The same text collection as above: 4.3301 in from .1001, .130, .100 and 4.
        ("60", "4.3301", 4),
        ("30", "2.5", 2),
    ],
)
def test_textbook_set_ups(text: str, height: str, most: int) -> None:
    target = SineTarget(ref="t", bar=FIVE_INCH, angle=angle(text), step=inch("0.0001"))

    stack, result = build(target)

    assert to_text(stack.nominal, "in") == height
    assert len(stack.blocks) <= most
    assert result.setting.error is not None
    # Half a step of 0.0001 in is 2.1 seconds over the cosine on 5 in.
    assert abs(result.setting.error) <= 2.07 * 2 * SECOND


def test_the_uncertainty_is_the_total_differential() -> None:
    """D angle = dh / (L cos a) - dL tan a / L, both by their worst, computed with mpmath."""
    bar = SineBar(centre_distance=inch("5"), expanded_uncertainty=uin("40"))
    target = SineTarget(ref="t", bar=bar, angle=angle("30"), step=inch("0.0001"))
    _, result = build(target)
    (stack,) = result.stacks

    with mpmath.workdps(30):
        a = mpmath.radians(30)
        of_height = stack.margin / (inch("5") * mpmath.cos(a))
        of_length = uin("40") * mpmath.tan(a) / inch("5")
        exact = mpmath.degrees(of_height + of_length) * DEGREE

    assert result.setting.uncertainty == pytest.approx(float(exact), rel=1e-9)


def test_a_certified_centre_distance_shifts_the_angle_by_its_share() -> None:
    long = SineBar(centre_distance=mm("100"), deviation=um("10"))

    shifted = long.angle(HUNDRED.height(angle("30")))

    # tan 30 times 1e-4 rad is 11.9 seconds less.
    assert shifted is not None
    assert (angle("30") - shifted) / SECOND == pytest.approx(11.909, abs=0.002)
