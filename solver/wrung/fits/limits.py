"""The limits of size of a tolerance class, and the clearances of two."""

from msgspec import Struct


class SizeLimits(Struct, frozen=True, kw_only=True):
    """Limits of size. All lengths in quanta of 0.01 nm.

    Attributes:
        nominal: nominal size.
        lower_deviation: lower limit less nominal size.
        upper_deviation: upper limit less nominal size.
    """

    nominal: int
    lower_deviation: int
    upper_deviation: int

    @property
    def lower(self) -> int:
        """Lower limit of size."""
        return self.nominal + self.lower_deviation

    @property
    def upper(self) -> int:
        """Upper limit of size."""
        return self.nominal + self.upper_deviation

    @property
    def tolerance(self) -> int:
        """Upper limit less lower limit."""
        return self.upper_deviation - self.lower_deviation


def clearances(hole: SizeLimits, shaft: SizeLimits) -> tuple[int, int]:
    """Least and greatest clearance of a fit, quanta; negative for an interference."""
    return hole.lower - shaft.upper, hole.upper - shaft.lower
