"""The sets of the shelf as they lie in their cases."""

from collections import Counter
from collections.abc import Iterator

from msgspec import Struct

from wrung.compositions import Composition, composition
from wrung.errors import InputError, LengthError
from wrung.lengths import Unit, parse, to_text
from wrung.markings import engraved
from wrung_service.api.bench.entry import Entered
from wrung_service.api.bench.question import LOOSE, Question, ShelfSet
from wrung_service.api.bench.single_blocks import nominal_of
from wrung_service.api.case_rows import WIDEST, case_rows


class Cell(Struct, frozen=True, kw_only=True):
    """A block in its case: its id, the figure on it, and whether it is not there."""

    id: str
    figure: str
    gone: bool


class Case(Struct, frozen=True, kw_only=True):
    """A set, row by row, its wear blocks apart; without rows if nobody knows such a set."""

    set: ShelfSet
    name: str
    rows: tuple[tuple[Cell, ...], ...]
    wear: tuple[tuple[Cell, ...], ...] = ()

    @property
    def gone(self) -> int:
        """How many are not there."""
        return sum(cell.gone for cell in self.cells)

    @property
    def cells(self) -> tuple[Cell, ...]:
        """All of its blocks, wear blocks last."""
        return tuple(cell for row in (*self.rows, *self.wear) for cell in row)

    @property
    def longest(self) -> int:
        """Of its figures, in characters."""
        return max((len(cell.figure) for row in self.rows for cell in row), default=0)


def cases(question: Question, decimal_mark: str) -> tuple[Case, ...]:
    """Every set of the shelf."""
    return tuple(_case(each, frozenset(question.gone), decimal_mark) for each in question.sets)


def is_in(name: str, length: str) -> bool:
    """Whether a composition has a block of that length; neither need be any."""
    try:
        known = composition(name)
        return parse(length, known.unit) in known.nominals
    except (InputError, LengthError):
        return False


def meant_in_mm(question: Question, entry: Entered) -> tuple[str, ...]:
    """The same figure in mm, where it is more inches than the shelf has and there are mm blocks."""
    bare = entry.state == "length" and entry.unit == question.unit == "in"
    if not bare or not question.typed.strip()[-1:].isdigit():
        return ()
    inches = [n for each in question.sets for unit, n in _nominals(each) if unit == "in"]
    metric = any(unit == "mm" for each in question.sets for unit, _ in _nominals(each))
    too_long = parse(entry.text, "in") > sum(inches)
    return (f"{question.typed.strip()} mm",) if metric and too_long else ()


def _nominals(each: ShelfSet) -> Iterator[tuple[Unit, int]]:
    known = _known(each)
    unit: Unit = LOOSE.get(each.composition) or (known.unit if known else "mm")
    own = (parse(text, unit) for text in names_of(each).values())
    for nominal in (*(known.nominals if known else ()), *own):
        yield unit, nominal


def names_of(each: ShelfSet) -> dict[str, str]:
    """The ids of its wear blocks, or of single blocks, and their nominal lengths."""
    unit = LOOSE.get(each.composition)
    known = None if unit else _known(each)
    seen: Counter[str] = Counter()
    if known is not None:
        seen.update(to_text(nominal, known.unit) for nominal in known.nominals)
    names: dict[str, str] = {}
    for text in each.lengths:
        label = _normal(nominal_of(text))
        names[_name(each, label, seen)] = label
    return names


def _case(each: ShelfSet, gone: frozenset[str], decimal_mark: str) -> Case:
    known = _known(each)
    unit = LOOSE.get(each.composition) or (known.unit if known else None)
    if unit is None:
        return Case(set=each, name=each.composition, rows=())

    def cell(name: str, nominal: int) -> Cell:
        figure = engraved(nominal, unit, decimal_mark, known.marking if known else None)
        return Cell(id=name, figure=figure, gone=name in gone)

    seen: Counter[str] = Counter()
    rows = [
        tuple(cell(_name(each, to_text(nominal, unit), seen), nominal) for nominal in row)
        for row in (case_rows(known) if known else ())
    ]
    own = [cell(name, parse(text, unit)) for name, text in names_of(each).items()]
    further = [tuple(own[at : at + WIDEST]) for at in range(0, len(own), WIDEST)]
    wear = further if known else []
    return Case(
        set=each,
        name=known.name if known else "",
        rows=tuple(rows if known else further),
        wear=tuple(wear),
    )


def _known(each: ShelfSet) -> Composition | None:
    try:
        return composition(each.composition)
    except InputError:
        return None


def _name(each: ShelfSet, label: str, seen: Counter[str]) -> str:
    seen[label] += 1
    return f"{each.id}/{label}" + (f"#{seen[label]}" if seen[label] > 1 else "")


def _normal(text: str) -> str:
    """Without needless noughts, as ids have it."""
    return to_text(parse(text, "mm"), "mm")
