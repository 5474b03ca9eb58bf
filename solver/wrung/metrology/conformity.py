"""What is to be said of one measured size: how probably it is within limits, and by which rule.

Nothing is supposed of the parts. Lengths of a `Band` are in any one unit, as floats.
"""

from math import inf
from typing import Literal, TypeAlias

from msgspec import Struct

from wrung.metrology.purpose import Zone
from wrung.metrology.student import share_above

Statement: TypeAlias = Literal["pass", "conditional_pass", "conditional_fail", "fail"]


class Band(Struct, frozen=True, kw_only=True):
    """Sizes from ``lower`` to ``upper``; none if these are the wrong way round."""

    lower: float
    upper: float


def share_of(band: Band, *, size: float, uncertainty: float, freedom: float = inf) -> float:
    """Probability that the true size lies in a band, by Student's t about the measured one."""
    if uncertainty <= 0:
        return float(band.lower <= size <= band.upper)
    above = share_above((band.lower - size) / uncertainty, freedom)
    return max(0.0, above - share_above((band.upper - size) / uncertainty, freedom))


def statement_of(size: int, *, limits: Zone, accepted: Zone, rejected: Zone) -> Statement:
    """What a rule with four values says of a size."""
    if accepted.lower <= size <= accepted.upper:
        return "pass"
    if not rejected.lower <= size <= rejected.upper:
        return "fail"
    return "conditional_pass" if limits.lower <= size <= limits.upper else "conditional_fail"
