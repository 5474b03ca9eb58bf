"""The record of an instrument's check points: its rows, and what they come to."""

from collections.abc import Sequence
from fractions import Fraction
from typing import Annotated, Final

from msgspec import Meta, Struct

from wrung.measures import Deviation, Difference, Length, Margin, Ratio
from wrung.metrology.purpose import Statement
from wrung.metrology.uncertainty_ratio import uncertainty_ratio
from wrung.targets.base import TargetResult
from wrung.targets.built import BuiltLength
from wrung.targets.tolerance_ratios import Judged, TestUncertaintyRatio, judged
from wrung.texts import Phrase, phrase

HEADINGS: Final = tuple(
    phrase(key)
    for key in (
        "record.point",
        "record.stack",
        "record.margin",
        "record.reading",
        "record.error",
        "record.permissible",
        "record.passed",
        "record.uncertainty",
        "record.probability",
    )
)


class CheckPoint(Struct, frozen=True, kw_only=True):
    """A row of the record sheet."""

    role: Annotated[str, Meta(description="The part that the stack plays: which point it is.")]
    point: Annotated[Length, Meta(description="Nominal check point.")]
    stack: Annotated[
        BuiltLength | None,
        Meta(
            description="The stack as built, if it was; null at point 0, where the measuring faces "
            "are closed without one."
        ),
    ]
    permissible_error: Annotated[
        Margin | None,
        Meta(
            description="Limit of the error of indication, plus and minus, where you or a "
            "standard give one."
        ),
    ]
    reading: Annotated[Difference | None, Meta(description="The reading, if it was sent.")]
    error: Annotated[
        Deviation | None,
        Meta(
            description="Error of indication: the reading less the best known length of the stack "
            "under the conditions of use; of a `dial_indicator`, less that of the stack that it "
            "was set to zero on, too."
        ),
    ]
    expanded_uncertainty: Annotated[
        Margin | None,
        Meta(
            description="Of the error, k = 2: stacks, resolution, repeatability and mechanical "
            "effects."
        ),
    ]
    conformity_probability: Annotated[
        Ratio | None,
        Meta(
            description="Probability, from 0 to 1 and rounded down, that the error is within its "
            "limit."
        ),
    ]
    statement: Annotated[
        Statement | None,
        Meta(description="What the decision rule says of the error, where it has a limit."),
    ]


class CheckPointsResult(TargetResult, frozen=True, kw_only=True, tag="check_points"):
    """A record of an instrument: a sheet to be filled in, or filled in with the readings sent."""

    columns: Annotated[tuple[Phrase, ...], Meta(description="Headings of the sheet's columns.")]
    rows: Annotated[tuple[CheckPoint, ...], Meta(description="One for each point, in order.")]
    test_uncertainty_ratio: TestUncertaintyRatio
    error_span: Annotated[
        Margin | None,
        Meta(description="Largest less smallest error, if every row has a reading."),
    ]
    permissible_span: Annotated[
        Margin | None, Meta(description="Its limit, where a standard gives one.")
    ]
    passed: Annotated[
        bool | None,
        Meta(
            description="Whether the statement of every row is `pass` and the span of errors is "
            "within its limit; null if a row has no reading, or nothing has a limit."
        ),
    ]


def passed(rows: Sequence[CheckPoint], span: int | None, permissible: int | None) -> bool | None:
    """Whether an instrument passed; None if that is not known."""
    statements = [row.statement for row in rows]
    if any(row.error is None for row in rows) or span is None:
        return None
    if permissible is None and None in statements:
        return None
    within = permissible is None or span <= permissible
    return within and all(each in (None, "pass") for each in statements)


def judged_rows(rows: Sequence[CheckPoint]) -> tuple[Judged, ...]:
    """What each permissible error is compared with, where there are both."""
    # An error is allowed to either side, so that the tolerance is twice as wide.
    found = (judged(2 * (r.permissible_error or 0), [r.stack]) for r in rows if r.stack)
    return tuple(each for each in found if each is not None)


def least_ratio(found: Judged) -> Fraction:
    """The smaller of its ratios, by the worst case and by the uncertainty."""
    off = max(found.worst_case, found.uncertainty or 0)
    return uncertainty_ratio(found.width, off) or Fraction(found.width)
