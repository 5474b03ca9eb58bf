"""Whether stacks are good enough for a tolerance that they serve: the ratio, and what to say of it.

One rule for every kind: the tolerance's width over twice the uncertainty, see
`wrung.metrology.uncertainty_ratio`; ten to one, at least four.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Final, TypeAlias

from msgspec import Meta, Struct

from wrung.measures import Measure, Ratio
from wrung.metrology.budget.stack import Budget
from wrung.metrology.doubtful import width_doubts
from wrung.metrology.purpose import Purpose
from wrung.metrology.uncertainty_ratio import TEN, meets, ratio_figures, shown, uncertainty_ratio
from wrung.targets.built import BuiltLength
from wrung.texts import Phrase, figure, phrase

_CLEARLY: Final = Fraction(5, 4)

TestUncertaintyRatio: TypeAlias = Annotated[
    Ratio | None,
    Meta(
        description="Test uncertainty ratio (TUR): width of the tolerance over twice the expanded "
        "uncertainty, with the size of `offset_in_use`, of the worst of these stacks. Rounded down."
    ),
]


class Judged(Struct, frozen=True, kw_only=True):
    """What a tolerance is held against; lengths in quanta of 0.01 nm.

    Attributes:
        width: of the tolerance, upper less lower limit.
        worst_case: the largest worst-case error.
        uncertainty: the largest expanded uncertainty; None where there is no budget.
    """

    width: int
    worst_case: int
    uncertainty: int | None = None

    @property
    def ratio(self) -> Fraction | None:
        """The test uncertainty ratio; None without uncertainty or budget."""
        return None if self.uncertainty is None else uncertainty_ratio(self.width, self.uncertainty)


def judged(width: int | None, stacks: Sequence[BuiltLength]) -> Judged | None:
    """What a tolerance is held against, by the worst of the stacks; None if there is no such thing.

    A width of 0 is no tolerance: the stack is wanted exactly.
    """
    if not width or not stacks:
        return None
    # The worse of two stacks decides, as either may pass or fail a part.
    uncertainties = [each.uncertainty for each in stacks if each.uncertainty is not None]
    return Judged(
        width=width,
        worst_case=max(each.worst_case for each in stacks),
        uncertainty=max(uncertainties, default=None),
    )


def shown_ratio(found: Judged | None) -> Decimal | None:
    """The test uncertainty ratio as answers show it; None if there is none."""
    ratio = found.ratio if found else None
    return None if ratio is None else shown(ratio)


def ratio_remarks(found: Judged | None) -> tuple[Phrase, ...]:
    """Remarks where the worst case, or the uncertainty, is not small against the tolerance."""
    return tuple(_remarks(found)) if found else ()


def purpose_remarks(budget: Budget, purpose: Purpose) -> tuple[Phrase, ...]:
    """A remark if a stack's worst case is not small against the tolerance of a part."""
    errors = budget.corrected if purpose.corrected else budget.uncorrected
    width = purpose.limits.upper - purpose.limits.lower
    # The uncertainty is the decision's business, which has a warning of its own.
    return ratio_remarks(Judged(width=width, worst_case=errors.worst_case))


def _remarks(found: Judged) -> Iterator[Phrase]:
    yield from width_doubts(found.width)
    worst = uncertainty_ratio(found.width, found.worst_case)
    if worst is not None and not meets(worst, TEN):
        yield phrase(
            "ratio.worst_case",
            *ratio_figures(worst, found.width),
            figure("error", found.worst_case, Measure.MARGIN),
        )
    ratio, uncertainty = found.ratio, found.uncertainty
    # Besides the worst case, which leaves out temperature and drift: only if clearly worse.
    if ratio is None or uncertainty is None or meets(ratio, TEN):
        return
    if worst is None or meets(worst, TEN) or ratio * _CLEARLY < worst:
        yield phrase(
            "ratio.expanded",
            *ratio_figures(ratio, found.width),
            figure("uncertainty", uncertainty, Measure.MARGIN),
        )


def seconds_remarks(within: int | None, error: int | None, uncertainty: int | None) -> list[Phrase]:
    """The same for an angle, in quanta of 1e-9 seconds: ``within`` is allowed either way."""
    if not within or error is None or uncertainty is None:
        return []
    off = abs(error) + uncertainty
    ratio = uncertainty_ratio(2 * within, off)
    if ratio is None or meets(ratio, TEN):
        return []
    return [
        phrase(
            "ratio.angle",
            figure("ratio", str(shown(ratio)), Measure.RATIO),
            figure("within", within, Measure.SECONDS, "stated"),
            figure("error", off, Measure.SECONDS),
        )
    ]
