"""From the crib that a request names to the blocks that it has."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from wrung.blocks import Block
from wrung.targets import Target
from wrung_service.api.crib.request import CribOnRequest
from wrung_service.api.faults import Faults, Path, pointer
from wrung_service.api.problem_types import NO_STORE
from wrung_service.api.problems import Refusal, refuse_if_any
from wrung_service.api.stacks.times import read_time
from wrung_service.api.unknown import listed, point_to_unknown
from wrung_service.store.errors import UnknownError
from wrung_service.usecases.crib_shelf import CribShelf, CribWanted, LookUp, Window

CRIB: Final = "/crib"
_A_MOMENT: Final = timedelta(milliseconds=1)
NO_PAUSE: Final = timedelta(0)
_HALF: Final = "needs {!r}, too: whoever has a block must know from when until when"


class CribReading(Struct, frozen=True, kw_only=True):
    """What a crib has, and the time of whatever states none of its own.

    Attributes:
        window: that time; a moment from now on, if nothing was said of it.
        pause: how long a block rests after each use before it may be used again.
    """

    shelf: CribShelf
    window: Window
    pause: timedelta = NO_PAUSE

    def day_of_use(self, windows: Sequence[Window]) -> date:
        """The last day of need, as the calendar of the site has it."""
        last = max(each.ends_at for each in windows) - self.pause
        # The end is not part of the time: up to midnight is still the day before.
        return (last - timedelta(microseconds=1)).astimezone(self.shelf.time_zone).date()

    def window_of(self, target: Target) -> Window:
        """When the blocks of a target are needed, with the pause after it."""
        start = target.needed_from or self.window.starts_at
        end = target.needed_until or self.window.ends_at
        # Times that contradict each other are refused elsewhere.
        end = max(end, start + _A_MOMENT) + self.pause
        return Window(starts_at=start.astimezone(UTC), ends_at=end.astimezone(UTC))

    def timed(self, target: Target) -> Target:
        """The target with the time for which its blocks are kept; in turn it has none."""
        if target.place is not None:
            return target
        window = self.window_of(target)
        return replace(target, needed_from=window.starts_at, needed_until=window.ends_at)


class Needs(Struct, frozen=True, kw_only=True):
    """From when until when something is needed, as it was sent, and where that stands."""

    at: Path
    needed_from: str | None
    needed_until: str | None


def read_crib(  # noqa: PLR0913 - what two resources have in common
    crib: CribOnRequest,
    needs: Sequence[Needs],
    look_up: LookUp | None,
    now: datetime,
    faults: Faults,
    *,
    pause: timedelta = NO_PAUSE,
    beside: frozenset[str] = frozenset(),
) -> CribReading:
    """What the crib has in the time from the first of the needs to the last.

    Raises:
        Refusal: 404, there is no store; with everything that is wrong with the crib.
    """
    if look_up is None:
        raise Refusal(NO_STORE, "This service keeps no crib.")
    own = _window(Needs(at=("crib",), **_times_of(crib)), faults) or _now(now)
    windows = [_window(each, faults) or own for each in needs] or [own]
    refuse_if_any(faults)
    hull = Window(
        starts_at=min(each.starts_at for each in windows),
        ends_at=max(each.ends_at for each in windows) + pause,
    )
    wanted = CribWanted(
        site=crib.site, sets=crib.sets, leave_out=crib.leave_out, window=hull, beside=beside
    )
    try:
        return CribReading(shelf=look_up(wanted), window=own, pause=pause)
    except UnknownError as error:
        point_to_unknown(error, "site", [(crib.site, f"{CRIB}/site")])
        point_to_unknown(error, "set", listed(crib.sets, f"{CRIB}/sets"))
        point_to_unknown(error, "block", listed(crib.leave_out, f"{CRIB}/leave_out"))
        raise


def _times_of(crib: CribOnRequest) -> dict[str, str | None]:
    return {"needed_from": crib.needed_from, "needed_until": crib.needed_until}


def _now(now: datetime) -> Window:
    return Window(starts_at=now, ends_at=now + _A_MOMENT)


def _window(needs: Needs, faults: Faults) -> Window | None:
    """The time that is stated; None if none is, or if it makes no sense."""
    start = read_time(needs.needed_from, (*needs.at, "needed_from"), faults)
    end = read_time(needs.needed_until, (*needs.at, "needed_until"), faults)
    if start is not None and end is not None:
        if end > start:
            return Window(starts_at=start, ends_at=end)
        faults.meaningless(pointer((*needs.at, "needed_until")), "must be later than needed_from")
    elif needs.needed_from is not None and needs.needed_until is None:
        faults.meaningless(pointer((*needs.at, "needed_from")), _HALF.format("needed_until"))
    elif needs.needed_until is not None and needs.needed_from is None:
        faults.meaningless(pointer((*needs.at, "needed_until")), _HALF.format("needed_from"))
    return None


def check_place_of_blocks(*, named: bool, faults: Faults) -> None:
    """A request names a crib or brings its blocks, never both."""
    if named:
        faults.meaningless(CRIB, "stands in place of blocks and sets: send one or the other")


def check_number(blocks: Sequence[Block], most: int, faults: Faults) -> None:
    """Not more blocks than a request may bring."""
    if len(blocks) > most:
        detail = f"has {len(blocks)} blocks that are fit for use, more than {most}: name sets"
        faults.meaningless(CRIB, detail)
