"""What a bevel protractor shows on angle blocks, to find one that is wrong or turned over."""

from typing import Final

from wrung.angles import DEGREE, MINUTE
from wrung.handwork.caliper import RoughReading
from wrung.lengths import to_multiple

_STEP: Final = 5 * MINUTE
"""What the vernier of a bevel protractor reads, and may be off (common practice, no source)."""


def protractor_reading(total: int) -> RoughReading | None:
    """The reading to expect, in steps of 5 minutes; None for angles too small to be read."""
    reading = to_multiple(total, _STEP)
    if reading == 0:
        return None
    # Its own limit, and what was rounded, up to whole steps.
    off = _STEP + abs(total - reading)
    return RoughReading(reading=reading, give=-(-off // _STEP) * _STEP)


def to_minutes(angle: int) -> str:
    """An angle of whole minutes as a protractor shows it, such as ``27°05'`` or ``5'``."""
    degrees, minutes = divmod(angle // MINUTE, DEGREE // MINUTE)
    return f"{degrees}°{minutes:02d}'" if degrees else f"{minutes}'"
