"""Candidates listed: all that there are within limits, or some of them."""

from collections.abc import Sequence

from msgspec import Struct

from wrung.planning.candidates.stock import Bools, Ints
from wrung.planning.candidates.walk import Candidates, Limit, Walk
from wrung.planning.candidates.workbench import Workbench


class Listing(Struct, frozen=True, kw_only=True):
    """Candidates, and which start each of them has.

    Attributes:
        candidates: one a row.
        starts: the start of each row.
        whole: by start, whether these are all that there are.
    """

    candidates: Candidates
    starts: Ints
    whole: Bools


def list_candidates(  # noqa: PLR0913 - what is listed, and how far
    bench: Workbench,
    limits: Sequence[Limit],
    most: int,
    *,
    levels: int | None = None,
    beam: int | None = None,
    by_start: bool = False,
) -> Listing | None:
    """Every candidate within all limits; None past ``most`` partial stacks or the deadline.

    With ``levels``, what candidates use of the pieces of the first so many levels, which the
    limits say can be completed; their errors then mean nothing. With ``beam``, some candidates
    only: no more partial stacks than that are followed at a time, or of each start ``by_start``.
    """
    walk = Walk(bench.layout, limits, most, bench.deadline, beam=beam, by_start=by_start)
    found = walk.run(bench.starts, levels)
    if found is None:
        return None
    own = bench.starts.where(found.starts).longer(bench.stock, found.added, found.left)
    candidates = Candidates(
        demands=own.demands,
        kinds=own.begun,
        counts=own.counts,
        errors=bench.stock.errors(own.offsets, own.burdens),
    )
    return Listing(candidates=candidates, starts=found.starts, whole=found.whole)
