"""A set of the crib as it lies in its case, each block in its state."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import Final, Literal, TypeAlias, get_args

from msgspec import Struct

from wrung.compositions import composition
from wrung.errors import InputError
from wrung.lengths import Unit
from wrung.markings import engraved
from wrung_service.api.case_rows import WIDEST, Row, case_rows
from wrung_service.api.crib_pages.moments import Calendar
from wrung_service.store.blocks import Condition, KeptBlock
from wrung_service.store.bookings import Booking
from wrung_service.store.sets import StoredSet

State: TypeAlias = Literal[
    "there", "not_there", "lent", "at_calibration", "damaged", "due", "retired", "in_stack", "never"
]
"""Of a place in the case; ``never``: the crib has no such block, though the set came with one."""


_GONE: Final[Mapping[Condition, State]] = {
    "missing": "not_there",
    "retired": "retired",
    "at_calibration": "at_calibration",
}


class Cell(Struct, frozen=True, kw_only=True):
    """A place in the case.

    Attributes:
        id: of its block; None if there is none.
        note: what stands below the figure: until when it is lent, for which operation, or that it
            is a wear block.
        label: the state in words, with all that is known.
    """

    figure: str
    id: str | None
    state: State
    note: str
    label: str


class Case(Struct, frozen=True, kw_only=True):
    """A set, row by row."""

    rows: tuple[tuple[Cell, ...], ...]

    @property
    def away(self) -> int:
        """How many are neither there nor retired."""
        gone = {"not_there", "lent", "at_calibration", "in_stack", "never"}
        return sum(cell.state in gone for row in self.rows for cell in row)

    @property
    def count(self) -> int:
        """How many places it has."""
        return sum(len(row) for row in self.rows)

    @property
    def states(self) -> tuple[State, ...]:
        """Those that a legend has to explain."""
        found = {cell.state for row in self.rows for cell in row}
        return tuple(each for each in get_args(State) if each in found)


def case_of(
    of_set: StoredSet | None,
    blocks: Iterable[KeptBlock],
    booked_now: Iterable[Booking],
    calendar: Calendar,
    decimal_mark: str,
) -> Case:
    """The case of a set; wear blocks and what it did not come with lie in rows of their own."""
    unit: Unit = "mm" if of_set is None else of_set.unit
    by_length: dict[int, list[KeptBlock]] = defaultdict(list)
    wear: list[KeptBlock] = []
    for each in sorted(blocks, key=lambda kept: (kept.block.nominal, kept.block.id)):
        (wear if each.block.role == "wear" else by_length[each.block.nominal]).append(each)
    in_use = {each.block: each for each in booked_now if each.state == "planned"}
    rows: list[tuple[Cell, ...]] = []
    for row in _known_rows(of_set):
        places = ((n, by_length[n].pop(0) if by_length[n] else None) for n in row)
        rows.append(
            tuple(
                _never(nominal, unit, calendar, decimal_mark)
                if held is None
                else _cell(held, in_use, calendar, decimal_mark)
                for nominal, held in places
            )
        )
    others = [each for _, held in sorted(by_length.items()) for each in held]
    return Case(rows=(*rows, *_tens([*others, *wear], in_use, calendar, decimal_mark)))


def _known_rows(of_set: StoredSet | None) -> tuple[Row, ...]:
    if of_set is None or of_set.composition is None:
        return ()
    try:
        return case_rows(composition(of_set.composition))
    except InputError:
        return ()


def _tens(
    others: list[KeptBlock], in_use: Mapping[str, Booking], calendar: Calendar, decimal_mark: str
) -> Iterator[tuple[Cell, ...]]:
    for start in range(0, len(others), WIDEST):
        row = others[start : start + WIDEST]
        yield tuple(_cell(each, in_use, calendar, decimal_mark) for each in row)


def _never(nominal: int, unit: Unit, calendar: Calendar, decimal_mark: str) -> Cell:
    said = calendar.said
    figure = engraved(nominal, unit, decimal_mark)
    return Cell(figure=figure, id=None, state="never", note="", label=said("state.never"))


def _cell(
    held: KeptBlock, in_use: Mapping[str, Booking], calendar: Calendar, decimal_mark: str
) -> Cell:
    state, note, label = _state(held, in_use.get(held.block.id), calendar)
    if held.block.role == "wear":
        note = note or calendar.said("note.wear")
        label = f"{calendar.said('role.wear')}, {label}"
    return Cell(
        figure=engraved(held.block.nominal, held.block.unit, decimal_mark),
        id=held.block.id,
        state=state,
        note=note,
        label=label,
    )


def _state(held: KeptBlock, booked: Booking | None, calendar: Calendar) -> tuple[State, str, str]:
    """The state, its note, and both in words."""
    said = calendar.said
    if held.condition in ("missing", "retired", "at_calibration"):
        state = _GONE[held.condition]
        note = said("note.at_calibration") if state == "at_calibration" else ""
        return state, note, said(f"state.{state}")
    if held.out is not None and held.out.plan is None:
        return ("lent", *_lent(held, calendar))
    if held.out is not None or booked is not None:
        operation = (booked.operation if booked else None) or ""
        label = f"{said('state.in_stack')} {operation}".strip()
        return "in_stack", operation[:7], label
    return _lying(held, calendar)


def _lying(held: KeptBlock, calendar: Calendar) -> tuple[State, str, str]:
    said = calendar.said
    if held.condition == "damaged":
        return "damaged", said("note.damaged"), said("state.damaged")
    if is_overdue(held, calendar.now.date()):
        return "due", said("note.due"), said("state.due")
    return "there", "", said("state.there")


def is_overdue(held: KeptBlock, today: date) -> bool:
    """Whether its last day of use is over."""
    known = held.block.calibration
    return known is not None and known.due_on is not None and known.due_on < today


def _lent(held: KeptBlock, calendar: Calendar) -> tuple[str, str]:
    assert held.out is not None  # noqa: S101 - whoever calls has looked
    until, who = held.out.due_at, held.out.borrower
    label = calendar.said("state.lent") + (f", {who}" if who else "")
    if until is None:
        return "", label
    return calendar.brief(until), f"{label}, {calendar.said('until', at=calendar.moment(until))}"
