"""Make a site, or change it."""

import sqlalchemy as sa
from msgspec import Struct
from msgspec.structs import replace

from wrung_service.store import history
from wrung_service.store.blocks import next_dated_blocks
from wrung_service.store.engine import Store
from wrung_service.store.risks import Risk, open_risks
from wrung_service.store.sites import Site, find_site, hold_shelf, save_site
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.shelf.counting import note_risks


class KeptSite(Struct, frozen=True, kw_only=True):
    """A site as it is now, whether it was made, and its plans whose blocks are not in date."""

    site: Site
    made: bool = False
    at_risk: tuple[Risk, ...] = ()


def keep_site(store: Store, wanted: Site, by: Acting) -> KeptSite:
    """What became of the site.

    Where its time zone changes, days begin at other moments, and plans may reach into a day on
    which a block is no longer in date.

    Raises:
        StoreError: the precondition is not met.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> KeptSite:
        hold_shelf(connection, wanted.id)
        held = find_site(connection, wanted.id)
        same = held is not None and (held.name, held.time_zone) == (wanted.name, wanted.time_zone)
        by.when.check("site", wanted.id, held.version if held else None, same=same)
        if held is not None and same:
            return _kept(connection, held)
        kept = wanted
        if held is not None:
            kept = replace(wanted, made_at=held.made_at, version=held.version + 1)
        save_site(connection, kept)
        event = _event(kept, by, made=held is None)
        if held is None:
            history.append(connection, event)
            return KeptSite(site=kept, made=True)
        dated = () if held.time_zone == kept.time_zone else next_dated_blocks(connection, kept.id)
        history.append(connection, event, *note_risks(connection, kept.id, dated, by))
        return _kept(connection, kept)

    return store.write(work)


def _kept(connection: sa.Connection, site: Site) -> KeptSite:
    risks = open_risks(connection, site.id)
    return KeptSite(site=site, at_risk=tuple(e for e in risks if e.reason == "overdue"))


def _event(kept: Site, by: Acting, *, made: bool) -> history.Event:
    return history.Event(
        site=kept.id,
        at=by.at,
        who=by.who,
        why=by.why,
        what="site.made" if made else "site.changed",
        kind="site",
        subject=kept.id,
        detail={"name": kept.name, "time_zone": kept.time_zone},
    )
