"""Blocks as a search wants them: fit for use, and taken when."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from functools import cached_property, lru_cache
from operator import itemgetter
from typing import Final

import msgspec
import sqlalchemy as sa
from msgspec import Struct

from wrung.blocks import Block
from wrung.calibrations import Calibration
from wrung_service.store.errors import UnknownError
from wrung_service.store.tables import block, gauge_set, loan, plan, promise, site

_CALIBRATIONS = msgspec.json.Decoder(Calibration)


class FitBlocks(Struct, frozen=True, kw_only=True, dict=True):
    """Blocks that are fit for use, in the order of their ids, and the version of each by its id."""

    blocks: tuple[Block, ...]
    versions: Mapping[str, int]

    @cached_property
    def steps(self) -> Mapping[str, frozenset[str]]:
        """By each step of a step block, all steps of it, itself among them."""
        bodies: dict[str, set[str]] = {}
        for each in self.blocks:
            if each.body is not None:
                bodies.setdefault(each.body, set()).add(each.id)
        return {name: frozenset(own) for own in bodies.values() for name in own}


class Hold(Struct, frozen=True, kw_only=True):
    """A block that a plan or a loan has, and for which time; ``ends_at`` None: nobody knows."""

    block: str
    plan: str | None
    job: str | None
    operation: str | None
    priority: int | None
    starts_at: datetime
    ends_at: datetime | None


def time_zone_of(connection: sa.Connection, of: str) -> str:
    """The IANA name of a site's time zone.

    Raises:
        UnknownError: there is no such site.
    """
    found = connection.execute(sa.select(site.c.time_zone).where(site.c.id == of)).scalar()
    if found is None:
        raise UnknownError("site", of)
    return str(found)


def set_ids(connection: sa.Connection, of: str) -> frozenset[str]:
    """The ids of all sets of a site."""
    query = sa.select(gauge_set.c.id).where(
        gauge_set.c.site_id == of, gauge_set.c.removed_at.is_(None)
    )
    return frozenset(connection.execute(query).scalars())


def fit_blocks(
    connection: sa.Connection, of: str, sets: Sequence[str], leave_out: Sequence[str]
) -> FitBlocks:
    """The blocks of a site, or of some of its sets, that are fit for use.

    Those to be left out are among them; so are steps of other sets whose step block is in these.

    Raises:
        UnknownError: the site has no such set, or no block of such an id.
    """
    _check_known(connection, of, "set", gauge_set, sets)
    _check_known(connection, of, "block", block, leave_out)
    return _of_sets(connection, of, sets) if sets else _whole_shelf(connection, of)


def unfit_steps(connection: sa.Connection, of: str) -> tuple[tuple[str, str, int], ...]:
    """The steps of a site's step blocks that are not fit for use: id, body and version of each."""
    query = sa.select(block.c.id, block.c.body, block.c.version).where(
        block.c.site_id == of,
        # Written out, so that a database sees that its index of the few that are not fit will do.
        block.c.condition != sa.literal_column("'fit'"),
        block.c.body.is_not(None),
        block.c.removed_at.is_(None),
    )
    return tuple((row.id, row.body, int(row.version)) for row in connection.execute(query))


def _of_sets(connection: sa.Connection, of: str, sets: Sequence[str]) -> FitBlocks:
    """The blocks of sets, and steps of step blocks that are in them only in part."""
    own = block.c.set_id.in_(sets)
    bodies = sa.select(block.c.body).where(block.c.site_id == of, block.c.body.is_not(None), own)
    return _read(connection, sa.and_(_fit(of), own | block.c.body.in_(bodies)))


def _whole_shelf(connection: sa.Connection, of: str) -> FitBlocks:
    """All that a site has, read only if a block was added or changed since this connection did."""
    changed = connection.execute(_LAST_CHANGE, {"site": of}).one()
    kept: dict[str, tuple[object, FitBlocks]] = connection.info.setdefault(_KEPT, {})
    before, shelf = kept.get(of, (None, None))
    if shelf is None or before != changed:
        shelf = _renewed(connection, of, shelf)
        if len(kept) >= _MOST_KEPT:
            kept.clear()
        kept[of] = changed, shelf
    return shelf


def _renewed(connection: sa.Connection, of: str, before: FitBlocks | None) -> FitBlocks:
    """The shelf as it is now, of which most is as it was."""
    if before is None:
        return _read(connection, _fit(of))
    query = sa.select(block.c.id, block.c.version).where(_fit(of))
    versions = {name: int(version) for name, version in connection.execute(query).all()}
    other = [name for name, version in versions.items() if before.versions.get(name) != version]
    if len(other) > _MANY:
        return _read(connection, _fit(of))
    found = _read(connection, sa.and_(_fit(of), block.c.id.in_(other)))
    # Others may write between the two statements: what was read counts, not what was seen before.
    same = [each for each in before.blocks if versions.get(each.id) == before.versions.get(each.id)]
    blocks = {each.id: each for each in (*same, *found.blocks)}
    latest = {**versions, **found.versions}
    return FitBlocks(
        blocks=tuple(blocks[name] for name in sorted(blocks)),
        versions={name: latest[name] for name in blocks},
    )


_KEPT: Final = "wrung_shelves"
_MOST_KEPT: Final = 8
_MANY: Final = 500
# Versions only grow, and rows stay: the sum is another one after each change.
_LAST_CHANGE: Final = sa.select(sa.func.count(), sa.func.sum(block.c.version)).where(
    block.c.site_id == sa.bindparam("site")
)


def _fit(of: str) -> sa.ColumnElement[bool]:
    return sa.and_(block.c.site_id == of, block.c.condition == "fit", block.c.removed_at.is_(None))


def _read(connection: sa.Connection, wanted: sa.ColumnElement[bool]) -> FitBlocks:
    query = sa.select(*_COLUMNS).where(wanted)
    # Sorted here, as databases sort by languages of their own, and choose worse indexes for it.
    rows = sorted(connection.execute(query).all(), key=itemgetter(0))
    return FitBlocks(
        blocks=tuple(_block(*row[:-1]) for row in rows),
        versions={row[0]: int(row[-1]) for row in rows},
    )


_COLUMNS = (
    block.c.id,
    block.c.nominal,
    block.c.deviation,
    block.c.expanded_uncertainty,
    block.c.limit_deviation,
    block.c.grade,
    block.c.material,
    block.c.serial,
    block.c.set_id,
    block.c.role,
    block.c.unit,
    block.c.uses,
    block.c.calibration,
    block.c.section,
    block.c.body,
    block.c.version,
)


# By all that it says, so that what is kept is never out of date; checking types takes the longest.
@lru_cache(maxsize=20_000)
def _block(*row: object) -> Block:
    *members, calibration, section, body = row
    names = Block.__struct_fields__[: len(members)]
    read = dict(zip(names, members, strict=True))
    known = _CALIBRATIONS.decode(calibration) if isinstance(calibration, str) else None
    return Block(**read, calibration=known, section=section, body=body)  # type: ignore[arg-type]


def _check_known(
    connection: sa.Connection, of: str, kind: str, table: sa.Table, names: Sequence[str]
) -> None:
    if not names:
        return
    query = sa.select(table.c.id).where(
        table.c.site_id == of, table.c.id.in_(names), table.c.removed_at.is_(None)
    )
    there = set(connection.execute(query).scalars())
    if unknown := [name for name in dict.fromkeys(names) if name not in there]:
        every = sa.select(table.c.id).where(table.c.site_id == of, table.c.removed_at.is_(None))
        raise UnknownError(kind, *unknown, known=connection.execute(every).scalars())


def check_blocks(connection: sa.Connection, of: str, names: Sequence[str]) -> None:
    """Whether the site has all of these blocks.

    Raises:
        UnknownError: it has not.
    """
    _check_known(connection, of, "block", block, names)


def holds(
    connection: sa.Connection, of: str, start: datetime, end: datetime, now: datetime
) -> tuple[Hold, ...]:
    """Who has a block of the site at any moment from the start up to the end."""
    return (*_promised(connection, of, start, end), *_lent(connection, of, start, now))


def _promised(connection: sa.Connection, of: str, start: datetime, end: datetime) -> Iterable[Hold]:
    query = (
        sa.select(
            promise.c.block_id,
            promise.c.plan_id,
            plan.c.job,
            plan.c.operation,
            plan.c.priority,
            promise.c.starts_at,
            promise.c.ends_at,
        )
        .join(plan, plan.c.id == promise.c.plan_id)
        .where(
            promise.c.site_id == of,
            promise.c.released_at.is_(None),
            promise.c.ends_at > start,
            promise.c.starts_at < end,
        )
    )
    return [_hold(*row) for row in connection.execute(query).all()]


def _lent(connection: sa.Connection, of: str, start: datetime, now: datetime) -> Iterable[Hold]:
    """What is out, up to the day that it is due; what is overdue may come back at any time."""
    query = (
        sa.select(
            loan.c.block_id,
            loan.c.plan_id,
            sa.func.coalesce(plan.c.job, loan.c.borrower),
            plan.c.operation,
            plan.c.priority,
            loan.c.issued_at,
            loan.c.due_at,
        )
        .outerjoin(plan, plan.c.id == loan.c.plan_id)
        .where(loan.c.site_id == of, loan.c.returned_at.is_(None))
    )
    out = [_hold(*row) for row in connection.execute(query).all()]
    open_end = [
        each if each.ends_at and each.ends_at > now else msgspec.structs.replace(each, ends_at=None)
        for each in out
    ]
    return [each for each in open_end if each.ends_at is None or each.ends_at > start]


def _hold(*row: object) -> Hold:
    return Hold(**dict(zip(Hold.__struct_fields__, row, strict=True)))  # type: ignore[arg-type]
