"""A crib, as requests name it in place of blocks."""

from typing import Annotated

from msgspec import Meta, Struct

from wrung_service.api.texts import BlockId, Name, Time


class CribOnRequest(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Blocks of a site, as the crib knows them.

    Those that are fit for use, not promised to a plan and not out at the time of need, and not
    overdue for calibration on that day.
    """

    site: Annotated[Name, Meta(description="Id of the site.")]
    sets: Annotated[
        tuple[Name, ...],
        Meta(max_length=200, description="Ids of sets; if left out, all that the site has."),
    ] = ()
    leave_out: Annotated[
        tuple[BlockId, ...],
        Meta(max_length=1000, description="Ids of blocks that may not be used."),
    ] = ()
    needed_from: (
        Annotated[
            Time,
            Meta(
                description="Start of the time of need (RFC 3339) of all that states no time of "
                "its own; now, if neither of the two is given."
            ),
        ]
        | None
    ) = None
    needed_until: (
        Annotated[Time, Meta(description="End of that time, itself not included.")] | None
    ) = None
