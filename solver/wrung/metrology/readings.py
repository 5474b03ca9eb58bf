"""What a caliper or micrometer should read on a stack, to see that the right blocks were taken."""

from collections.abc import Sequence

from msgspec import Struct

from wrung.checked_types import CheckedStruct, typed
from wrung.errors import Fault, not_negative, positive, require
from wrung.lengths import to_multiple


class Instrument(CheckedStruct, frozen=True, kw_only=True):
    """What measures the stack; lengths in quanta of 0.01 nm.

    Attributes:
        name: what it is called.
        resolution: smallest step of its reading.
        permissible_error: largest error of its reading, by ISO 13385-1 or ISO 3611 or its
            certificate. 0 to ignore it.
    """

    name: str
    resolution: int
    permissible_error: int = 0


class Reading(Struct, frozen=True, kw_only=True):
    """What an instrument should show, quanta.

    Attributes:
        instrument: its name.
        reading: the reading nearest to the length; of two that are as near, the longer.
        lowest: lowest reading that still agrees with the stack.
        highest: highest one.
    """

    instrument: str
    reading: int
    lowest: int
    highest: int


@typed
def expected_reading(length: int, uncertainty: int, instrument: Instrument) -> Reading:
    """What the instrument should read on that length, quanta.

    Args:
        length: best estimate of the length.
        uncertainty: how far off that can be.
        instrument: its resolution, and how far its reading may be off.
    """
    off = uncertainty + instrument.permissible_error
    step = instrument.resolution
    return Reading(
        instrument=instrument.name,
        reading=to_multiple(length, step),
        lowest=-to_multiple(off - length, step),  # of two as near, the lower one
        highest=to_multiple(length + off, step),
    )


def check_instruments(instruments: Sequence[Instrument]) -> None:
    """Make sure that the instruments make sense.

    Raises:
        InputError: with pointers such as ``/instruments/0/resolution``.
    """
    faults: list[Fault] = []
    for index, each in enumerate(instruments):
        at = f"/instruments/{index}"
        faults += positive(each, "resolution", at=at)
        faults += not_negative(each, "permissible_error", at=at)
    require(*faults)
