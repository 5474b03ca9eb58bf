"""What the errors of stacks are compared by and must keep, for planning and checking alike."""

from fractions import Fraction
from typing import Final

from wrung.answers import ErrorKind
from wrung.checked_types import CheckedStruct
from wrung.metrology.conditions import STANDARD, Conditions
from wrung.stack_names import Named

QUANTA_A_STEP: Final = 10
"""Variances are in (0.1 nm)²: quanta of 0.01 nm in a step of it."""


class ErrorMeasure(CheckedStruct, frozen=True, kw_only=True):
    """What the errors of stacks are compared by.

    Attributes:
        kind: ``worst_case`` all margins to the same side, quanta of 0.01 nm;
            ``expanded_uncertainty`` the variance, (0.1 nm)²: the root of it times the coverage
            factor is the expanded uncertainty, so that the least of one is the least of the other
            as long as the factor is the same. Certificates count as independent and everything as
            being at 20 °C, and what every stack has alike is left out: then variances add.
            (Uncorrected, the mean square error instead of the variance.)
        corrected: whether the user allows for the known offset of a stack: its certified deviations
            and the difference of its nominal length from the target. Where not, the offset adds to
            the worst case, and its square to the variance: the mean square error, so that the
            offset counts as one more standard uncertainty (S. D. Phillips, K. R. Eberhardt,
            B. Parry, J. Res. Natl. Inst. Stand. Technol. 102, 577, 1997, from memory).
        unequal_limits: for the worst case, whether unequal limits of a grade count as what they
            are: their middle give or take half their distance; else the larger one counts both
            ways, as in the contract.
        conditions: under which variances are worked out: day of use, wringing, faces.
    """

    kind: ErrorKind = "worst_case"
    corrected: bool = False
    unequal_limits: bool = False
    conditions: Conditions = STANDARD

    @property
    def usual(self) -> bool:
        """Whether this is the contract's worst-case error."""
        return not (self.by_variance or self.corrected or self.unequal_limits)

    @property
    def by_variance(self) -> bool:
        """Whether variances are compared, not lengths."""
        return self.kind == "expanded_uncertainty"

    @property
    def squares(self) -> bool:
        """Whether a stack's offset counts too, squared and added to the variance."""
        return self.by_variance and not self.corrected

    def error(self, off: int, spread: int) -> int:
        """The error of a stack that is off by that much, quanta, and has that sum of spreads.

        The square of the offset is rounded down to a whole (0.1 nm)².
        """
        return spread + (off * off // QUANTA_A_STEP**2 if self.squares else abs(off))


WORST_CASE: Final = ErrorMeasure()
"""The worst case of stacks as they are built, with the larger of unequal limits on both sides."""


class RequiredRatio(Named, frozen=True, kw_only=True):
    """How much better than a tolerance a stack must be, by the measure of plans, to be planned.

    Attributes:
        target: ref of the target.
        role: which of its stacks, where it has several.
        width: of the tolerance, upper less lower limit, quanta.
        ratio: smallest allowed test uncertainty ratio, the error by the measure in place of the
            expanded uncertainty; for variances that itself, with a coverage factor that no stack
            of the blocks exceeds.
    """

    width: int
    ratio: Fraction
