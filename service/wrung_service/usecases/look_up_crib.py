"""Look into the crib: what is fit for use, and who has it when."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from wrung_service.store.engine import Store
from wrung_service.store.shelves import (
    FitBlocks,
    Hold,
    fit_blocks,
    holds,
    set_ids,
    time_zone_of,
    unfit_steps,
)
from wrung_service.usecases.crib_shelf import CribShelf, CribWanted, Taken

_FOR_EVER = datetime.max.replace(tzinfo=UTC)


def look_up_crib(store: Store, wanted: CribWanted, *, now: datetime) -> CribShelf:
    """What the site has, as it is promised at this moment.

    Raises:
        UnknownError: there is no such site or set, or no block of an id that is to be left out.
        UnavailableError: the database does not do its work now.
    """
    window = wanted.window
    with store.reading() as connection:
        zone = ZoneInfo(time_zone_of(connection, wanted.site))
        fit = fit_blocks(connection, wanted.site, wanted.sets, wanted.leave_out)
        unfit = unfit_steps(connection, wanted.site)
        sets = set_ids(connection, wanted.site)
        held = holds(connection, wanted.site, window.starts_at, window.ends_at, now)
    without, own = frozenset(wanted.leave_out), frozenset(wanted.sets)
    blocks = fit.blocks
    if own or without:
        blocks = tuple(b for b in blocks if b.id not in without and (not own or b.set in own))
    return CribShelf(
        blocks=blocks,
        versions={**fit.versions, **{name: version for name, _, version in unfit}},
        taken=tuple(_taken(each) for each in held if each.plan not in wanted.beside),
        time_zone=zone,
        sets=sets,
        steps=_steps(fit, unfit),
    )


def _steps(fit: FitBlocks, unfit: Sequence[tuple[str, str, int]]) -> Mapping[str, frozenset[str]]:
    """By each step of a step block, all steps of it.

    One that is not fit now may be so when the others are promised, so it is promised with them.
    """
    if not unfit:
        return fit.steps
    bodies: dict[str, set[str]] = {}
    for name, body in (*((b.id, b.body) for b in fit.blocks), *((n, b) for n, b, _ in unfit)):
        if body is not None:
            bodies.setdefault(body, set()).add(name)
    return {name: frozenset(own) for own in bodies.values() for name in own}


def _taken(hold: Hold) -> Taken:
    return Taken(
        block=hold.block,
        plan=hold.plan,
        job=hold.job,
        operation=hold.operation,
        priority=hold.priority,
        starts_at=hold.starts_at,
        ends_at=hold.ends_at or _FOR_EVER,
        known_end=hold.ends_at is not None,
    )
