"""What is out: exceptions only, the blocks that went and come back together in one row."""

from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from typing import Literal, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from wrung_service.store.blocks import Condition, KeptBlock
from wrung_service.store.plans import PlanHead

Why: TypeAlias = Literal["plan", "borrower", "nobody", "missing", "at_calibration"]
"""Out for a plan; with a person; with somebody; not found; at a laboratory."""

_MOST = 500
"""Blocks of a row, as of a return."""


class Absent(Struct, frozen=True, kw_only=True):
    """Blocks that are away together.

    Attributes:
        plan: that they are out for.
        who: who has them, without a plan.
        since: the day, at the site, of those that are not out.
        until: when they should be back, if that is known.
        late: whether that is over.
    """

    blocks: tuple[KeptBlock, ...]
    why: Why
    plan: PlanHead | None = None
    who: str | None = None
    since: date | None = None
    reason: str | None = None
    until: datetime | None = None
    late: bool = False


def absent(
    out: Iterable[KeptBlock],
    unfit: Iterable[KeptBlock],
    plans: Mapping[str, PlanHead],
    now: datetime,
) -> tuple[Absent, ...]:
    """What is late first, then what is due back first, then what was not lent.

    Args:
        out: blocks that are lent.
        unfit: blocks in another condition than fit.
        plans: those that blocks are out for, by id.
        now: the moment, in the zone of the site.
    """
    lent = list(out)
    names = {each.block.id for each in lent}
    away = [each for each in unfit if each.block.id not in names]
    gone = [
        *_grouped(lent, lambda each: _of_loan(each, plans, now)),
        *_grouped((e for e in away if e.condition == "at_calibration"), _since(now)),
        *_grouped((e for e in away if e.condition == "missing"), _since(now)),
    ]
    return tuple(sorted(gone, key=_urgency))


def _urgency(each: Absent) -> tuple[bool, bool, float]:
    not_lent = each.why in ("missing", "at_calibration")
    return not_lent, each.until is None, each.until.timestamp() if each.until else 0


def _of_loan(held: KeptBlock, plans: Mapping[str, PlanHead], now: datetime) -> Absent:
    out = held.out
    assert out is not None  # noqa: S101 - only such blocks are asked for
    plan = plans.get(out.plan) if out.plan is not None else None
    why: Why = "plan" if plan else "borrower" if out.borrower else "nobody"
    late = out.due_at is not None and out.due_at < now
    return Absent(blocks=(), why=why, plan=plan, who=out.borrower, until=out.due_at, late=late)


def _since(now: datetime) -> Callable[[KeptBlock], Absent]:
    def row(held: KeptBlock) -> Absent:
        return Absent(
            blocks=(),
            why=_why(held.condition),
            since=held.condition_since.astimezone(now.tzinfo).date(),
            reason=held.condition_reason,
        )

    return row


def _why(condition: Condition) -> Why:
    return "missing" if condition == "missing" else "at_calibration"


def _grouped(held: Iterable[KeptBlock], row_of: Callable[[KeptBlock], Absent]) -> Iterable[Absent]:
    rows: list[tuple[Absent, list[KeptBlock]]] = []
    for each in sorted(held, key=lambda kept: (kept.block.nominal, kept.block.id)):
        row = row_of(each)
        blocks = next((b for known, b in rows if known == row and len(b) < _MOST), None)
        if blocks is None:
            blocks = list[KeptBlock]()
            rows.append((row, blocks))
        blocks.append(each)
    for row, blocks in rows:
        yield replace(row, blocks=tuple(blocks))
