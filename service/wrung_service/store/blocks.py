"""Blocks of a site: each with its condition, its certificate, its wear, and whether it is out."""

from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime
from typing import Any, Final, Literal, TypeAlias

import msgspec
import sqlalchemy as sa
from msgspec import Struct
from sqlalchemy.sql.elements import ColumnElement

from wrung.blocks import Block
from wrung.calibrations import Calibration
from wrung_service.store.errors import UnknownError
from wrung_service.store.pages import Page, Place, page_of
from wrung_service.store.tables import block, certificate, loan

Condition: TypeAlias = Literal["fit", "at_calibration", "damaged", "missing", "retired"]
"""Fit for use, or why it is not."""

NEVER_DUE: Final[tuple[Condition, ...]] = ("retired", "missing")
"""Blocks in these conditions are not due for calibration, whatever their certificates say."""
WITH_ITS_BODY: Final[tuple[Condition, ...]] = ("at_calibration", "missing")
"""A step of a step block is in these conditions together with all its steps."""
_CALIBRATIONS: Final = msgspec.json.Decoder(Calibration)
_AS_IN_LIBRARY: Final = (
    "id",
    "nominal",
    "deviation",
    "expanded_uncertainty",
    "limit_deviation",
    "grade",
    "material",
    "section",
    "serial",
    "role",
    "unit",
    "body",
)
_OWN: Final = (
    "maker_number",
    "condition",
    "condition_reason",
    "condition_since",
    "uses",
    "minutes_out",
    "made_at",
    "version",
)


class BlockOut(Struct, frozen=True, kw_only=True):
    """A loan that is open: who has the block, since when, and until when it should be back."""

    plan: str | None
    borrower: str | None
    issued_at: datetime
    due_at: datetime | None


class KeptBlock(Struct, frozen=True, kw_only=True):
    """A block as the crib keeps it.

    Attributes:
        block: what the library knows of it.
        uses: how often it went out and came back.
        minutes_out: for how long in all.
        out: the open loan; None where it is in the crib.
    """

    block: Block
    maker_number: str | None = None
    condition: Condition = "fit"
    condition_reason: str | None = None
    condition_since: datetime
    uses: int = 0
    minutes_out: int = 0
    made_at: datetime
    version: int = 1
    out: BlockOut | None = None


class BlockFilter(Struct, frozen=True, kw_only=True):
    """Which blocks are wanted; None leaves a question open.

    Attributes:
        due_before: last day of use before this day.
        late_at: out, and due back before this moment.
    """

    set: str | None = None
    nominal: int | None = None
    condition: Condition | None = None
    due_before: date | None = None
    out: bool | None = None
    late_at: datetime | None = None


def list_blocks(
    connection: sa.Connection, of: str, wanted: BlockFilter, place: Place
) -> Page[KeptBlock]:
    """Blocks of the site, by id."""
    only_out = wanted.out is True or wanted.late_at is not None
    query = _query(of, only_out=only_out).where(*_conditions(wanted))
    # The same id; by that of the loans SQLite begins with the few that are out.
    by = loan.c.block_id if only_out else block.c.id
    return page_of(connection, query, by, place, _kept)


def find_blocks(
    connection: sa.Connection, of: str, names: Iterable[str], *, to_change: bool = False
) -> dict[str, KeptBlock]:
    """Those of these blocks that there are, by id.

    With ``to_change`` their rows are locked in the order of their ids, as everybody does it.
    """
    wanted = sorted(set(names))
    if to_change and connection.dialect.name != "sqlite":
        held = sa.select(block.c.id).where(block.c.site_id == of, block.c.id.in_(wanted))
        connection.execute(held.order_by(block.c.id).with_for_update(key_share=True)).all()
    rows = connection.execute(_query(of).where(block.c.id.in_(wanted)))
    return {row.id: _kept(row) for row in rows}


def with_other_steps(connection: sa.Connection, of: str, names: Sequence[str]) -> tuple[str, ...]:
    """These blocks, and after them the other steps of every step block among them."""
    bodies = sa.select(block.c.body).where(
        block.c.site_id == of, block.c.id.in_(names), block.c.body.is_not(None)
    )
    query = sa.select(block.c.id).where(
        block.c.site_id == of,
        block.c.body.in_(bodies),
        block.c.id.not_in(names),
        block.c.removed_at.is_(None),
    )
    return (*names, *sorted(connection.execute(query).scalars()))


def steps_of(
    connection: sa.Connection, of: str, bodies: Collection[str | None]
) -> tuple[KeptBlock, ...]:
    """All steps of these step blocks."""
    rows = connection.execute(_query(of).where(block.c.body.in_(bodies)))
    return tuple(_kept(row) for row in rows)


def get_block(connection: sa.Connection, of: str, name: str) -> KeptBlock:
    """The block.

    Raises:
        UnknownError: there is none.
    """
    found = find_blocks(connection, of, [name])
    if name not in found:
        names = sa.select(block.c.id).where(block.c.site_id == of, block.c.removed_at.is_(None))
        raise UnknownError("block", name, known=connection.execute(names).scalars())
    return found[name]


def insert_blocks(connection: sa.Connection, of: str, made: Sequence[KeptBlock]) -> None:
    """Write new blocks."""
    if made:
        rows = [{"site_id": of, "id": each.block.id, **_values(each)} for each in made]
        connection.execute(sa.insert(block), rows)


def update_block(connection: sa.Connection, of: str, changed: KeptBlock) -> None:
    """Write a new version of a block."""
    same = (block.c.site_id == of, block.c.id == changed.block.id)
    connection.execute(sa.update(block).where(*same).values(**_values(changed)))


def next_dated_blocks(connection: sa.Connection, of: str) -> tuple[KeptBlock, ...]:
    """All blocks with a last day of use, each as its next version: that day is another now.

    So a plan that was worked out with the days before is worked out again.
    """
    dated = (block.c.site_id == of, block.c.due_on.is_not(None), block.c.removed_at.is_(None))
    names = connection.execute(sa.select(block.c.id).where(*dated)).scalars().all()
    find_blocks(connection, of, names, to_change=True)
    connection.execute(sa.update(block).where(*dated).values(version=block.c.version + 1))
    return tuple(find_blocks(connection, of, names).values())


def add_certificates(
    connection: sa.Connection, of: str, blocks: Sequence[Block], at: datetime, who: str
) -> None:
    """Note what these blocks are certified as from now on, after what they had before."""
    names = [each.id for each in blocks]
    query = (
        sa.select(certificate.c.block_id, sa.func.max(certificate.c.number))
        .where(certificate.c.site_id == of, certificate.c.block_id.in_(names))
        .group_by(certificate.c.block_id)
    )
    last = {name: int(number) for name, number in connection.execute(query)}
    rows = [
        {
            "site_id": of,
            "block_id": each.id,
            "number": last.get(each.id, 0) + 1,
            "noted_at": at,
            "noted_by": who,
            "deviation": each.deviation,
            "expanded_uncertainty": each.expanded_uncertainty,
            **_calibration(each.calibration),
        }
        for each in blocks
    ]
    if rows:
        connection.execute(sa.insert(certificate), rows)


def _query(of: str, *, only_out: bool = False) -> sa.Select[Any]:
    open_loan = sa.and_(
        loan.c.site_id == of,
        loan.c.block_id == block.c.id,
        loan.c.returned_at.is_(None),
    )
    return (
        sa.select(block, loan.c.n, loan.c.plan_id, loan.c.borrower, loan.c.issued_at, loan.c.due_at)
        .join(loan, open_loan, isouter=not only_out)
        .where(block.c.site_id == of, block.c.removed_at.is_(None))
    )


def _conditions(wanted: BlockFilter) -> Iterable[ColumnElement[bool]]:
    if wanted.set is not None:
        yield block.c.set_id == wanted.set
    if wanted.nominal is not None:
        yield block.c.nominal == wanted.nominal
    if wanted.condition is not None:
        yield block.c.condition == wanted.condition
        if wanted.condition != "fit":
            # Written out: with a parameter in its place no database could tell that the index of
            # the few that are not fit will do.
            yield block.c.condition != sa.literal_column("'fit'")
    if wanted.due_before is not None:
        yield block.c.due_on < wanted.due_before
    if wanted.out is False:
        yield loan.c.n.is_(None)
    if wanted.late_at is not None:
        yield loan.c.due_at < wanted.late_at


def _kept(row: Any) -> KeptBlock:  # noqa: ANN401 - a row
    known = _CALIBRATIONS.decode(row.calibration) if row.calibration else None
    members = {name: getattr(row, name) for name in _AS_IN_LIBRARY}
    out = None
    if row.n is not None:
        out = BlockOut(
            plan=row.plan_id, borrower=row.borrower, issued_at=row.issued_at, due_at=row.due_at
        )
    return KeptBlock(
        block=Block(**members, set=row.set_id, calibration=known),
        out=out,
        **{name: getattr(row, name) for name in _OWN},
    )


def _values(kept: KeptBlock) -> dict[str, Any]:
    return {
        **{name: getattr(kept.block, name) for name in _AS_IN_LIBRARY if name != "id"},
        **{name: getattr(kept, name) for name in _OWN},
        **_calibration(kept.block.calibration),
        "set_id": kept.block.set,
    }


def _calibration(known: Calibration | None) -> dict[str, Any]:
    """The calibration as a whole, and beside it what is looked for."""
    return {
        "calibration": None if known is None else msgspec.json.encode(known).decode(),
        "certificate": known and known.certificate,
        "calibrated_on": known and known.calibrated_on,
        "due_on": known and known.due_on,
    }
