"""What a calibration certificate states of a block beyond its deviation and uncertainty."""

from datetime import date
from math import inf
from typing import Final

from wrung.checked_types import CheckedStruct

DAYS_A_YEAR: Final = 365.25


class Calibration(CheckedStruct, frozen=True, kw_only=True):
    """The calibration of one block. Lengths are quanta of 0.01 nm.

    Attributes:
        certificate: number of the certificate; blocks of one certificate share its reference.
        laboratory: who calibrated.
        calibrated_on: day of the calibration.
        due_on: last day on which the block may be used before it is calibrated again.
        coverage_factor: what the block's expanded uncertainty was multiplied by.
        degrees_of_freedom: effective degrees of freedom of its uncertainty; None for very many.
        variation: measured variation in length, the longest less the shortest over the face.
        expansion: coefficient of linear thermal expansion, 1e-6/K, if measured.
        expansion_uncertainty: standard uncertainty of that coefficient, 1e-6/K.
    """

    certificate: str | None = None
    laboratory: str | None = None
    calibrated_on: date | None = None
    due_on: date | None = None
    coverage_factor: float = 2.0
    degrees_of_freedom: float | None = None
    variation: int | None = None
    expansion: float | None = None
    expansion_uncertainty: float | None = None

    @property
    def freedom(self) -> float:
        """Degrees of freedom as a number, infinite where there are very many."""
        return inf if self.degrees_of_freedom is None else self.degrees_of_freedom

    def overdue(self, on: date) -> bool:
        """Whether the block should have been calibrated before that day."""
        return self.due_on is not None and self.due_on < on
