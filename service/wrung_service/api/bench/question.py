"""The question of a page, as it stands in its address: what is on the shelf, what is wanted.

Everything is in the address, so that it can be kept and sent; what a browser remembers of the
shelf comes in only where the address says nothing of one.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from string import ascii_uppercase
from typing import Final, Literal, TypeAlias, cast
from urllib.parse import urlencode

from msgspec import Struct
from msgspec.structs import replace

from wrung.compositions import composition
from wrung.errors import InputError
from wrung.lengths import Unit
from wrung_service.api.bench.lists import read_lines
from wrung_service.api.bench.members import kinds_by_name, members_of
from wrung_service.api.bench.single_blocks import is_block, read_blocks
from wrung_service.api.page_words import Language
from wrung_service.api.texts import PRINTABLE

Timing: TypeAlias = Literal["together", "in_turn"]
Search: TypeAlias = Literal["brief", "usual", "longer"]
"""How long to search."""
Pairs: TypeAlias = Sequence[tuple[str, str]]

_SEPARATOR: Final = "~"
CHOSEN_SEPARATOR: Final = _SEPARATOR
"""Between the ids of blocks of a stack that was chosen."""
_LONG: Final = frozenset({"use", "set", "lines", "new_lengths"})
_OF_A_SHELF: Final = frozenset({"set", "add", "new_set"})
_LONGEST_LIST: Final = 20_000
USUAL: Final[dict[Unit, tuple[str, str, str]]] = {
    "in": ("A", "inch-81", "AS-1"),
    "mm": ("A", "metric-88-1", "1"),
}
"""The set that is taken where nothing is said of the shelf: id, composition, grade."""
_LENGTH: Final = re.compile(r"(?=.*[1-9])[0-9]{1,6}(\.[0-9]{1,8})?")
MOST_KEPT: Final = 60
_LONGEST_NAME: Final = 64
_LONGEST: Final = 200
"""Characters of a text in the address that are read; whatever is longer was not typed."""


LOOSE: Final[dict[str, Unit]] = {"blocks-in": "in", "blocks-mm": "mm"}
"""Stand in the place of a composition where blocks are named one by one."""


class ShelfSet(Struct, frozen=True, kw_only=True):
    """A set as the address names it: ``A~inch-81~AS-1``, then its wear blocks.

    ``L~blocks-in~AS-1``, then the blocks, are single blocks; each may have figures of its own.
    """

    id: str
    composition: str
    grade: str
    lengths: tuple[str, ...] = ()

    @property
    def wear(self) -> tuple[str, ...]:
        """Nominal lengths of its wear blocks."""
        return () if self.composition in LOOSE else self.lengths

    def __str__(self) -> str:
        return _SEPARATOR.join((self.id, self.composition, self.grade, *self.lengths))


class TypedTarget(Struct, frozen=True, kw_only=True):
    """A target as it was typed; the address has it as ``20~length~want=3/8``.

    Attributes:
        name: what it is for, such as the number of an operation.
        kind: its kind.
        members: of its kind, as typed; of a length ``want`` alone.
    """

    name: str
    kind: str
    members: tuple[tuple[str, str], ...]

    def __str__(self) -> str:
        members = (f"{n}={v.replace(_SEPARATOR, '-')}" for n, v in self.members)
        return _SEPARATOR.join((self.name, self.kind, *members))


class Question(Struct, frozen=True, kw_only=True):
    """All that a page is asked.

    Attributes:
        usual: the language that the browser prefers, which the address need not say.
        typed: the text of the entry, as it stands there.
        fields: members of a target of another kind than a length, as typed.
        sets: the shelf.
        site: of the crib, if its blocks are the shelf instead.
        cases: ids of the sets of the site to take from; empty for all that it has.
        gone: ids of blocks that are not there, the last one marked last.
        kept: targets that were typed before.
        chosen: the blocks of the stack that was taken in place of the best; once, not kept.
        search: how long to search; once, not kept.
        theme: light or dark, else as the system has it; a browser's own, never in the address.
        assumed: whether nobody said yet what lies on the shelf.
    """

    unit: Unit = "in"
    language: Language = "en"
    usual: Language = "en"
    kind: str = "length"
    typed: str = ""
    fields: tuple[tuple[str, str], ...] = ()
    sets: tuple[ShelfSet, ...] = ()
    site: str = ""
    cases: tuple[str, ...] = ()
    gone: tuple[str, ...] = ()
    wear: Literal["none", "one", "both"] = "none"
    kept: tuple[TypedTarget, ...] = ()
    timing: Timing = "together"
    objective: Literal["fewest_blocks", "least_error"] = "fewest_blocks"
    chosen: tuple[str, ...] = ()
    search: Search = "usual"
    theme: str = ""
    assumed: bool = False

    @property
    def own(self) -> TypedTarget:
        """The target that is being typed."""
        asked = {each.name for each in members_of(self.kind)}
        fields = tuple((name, value) for name, value in self.fields if name in asked)
        members = (("want", self.typed),) if self.kind == "length" else fields
        return TypedTarget(name=next_name(self.kept), kind=self.kind, members=members)

    def address(self, **changed: object) -> str:
        """The query of its address, with some of it changed."""
        return urlencode(list(_pairs(replace(self, **changed))))

    def as_shown(self, **changed: object) -> str:
        """Likewise, with the stack that was taken."""
        used = [("use", CHOSEN_SEPARATOR.join(self.chosen))] if self.chosen else []
        return urlencode([*_pairs(replace(self, **changed)), *used])

    def retyped(self, name: str, text: str, member: str = "want") -> str | None:
        """The query with another text for a member of one of its targets; None if it has none.

        Of a length that is what is wanted, and nothing else.
        """
        typed = next((each for each in (*self.kept, self.own) if each.name == name), None)
        if typed is None or (typed.kind == "length") != (member == "want"):
            return None
        others = (pair for pair in typed.members if pair[0] != member)
        other = replace(typed, members=(*others, (member, text)))
        if name == self.own.name:
            changed = {"typed": text} if typed.kind == "length" else {"fields": other.members}
            return self.address(**changed)
        return self.address(kept=tuple(other if each is typed else each for each in self.kept))

    @property
    def shelf(self) -> str:
        """What a browser keeps of it."""
        return urlencode([*_shelf_pairs(self), ("unit", self.unit)])


def next_name(kept: Sequence[TypedTarget]) -> str:
    """The next ten after those of the targets that there are, as operations are numbered."""
    numbers = [int(each.name) for each in kept if each.name.isdecimal()]
    return str(10 * (max(numbers, default=0) // 10 + 1))


def read_question(
    pairs: Pairs, remembered: Pairs = (), site: str = "", usual: Language = "en"
) -> Question:
    """The question of an address; what is not understood of it is as if it were not there.

    Args:
        pairs: the query of the address.
        remembered: what a browser remembers of the shelf.
        site: of the crib; then neither address nor browser says what is on the shelf.
        usual: the language, if the address does not say.
    """
    if site:
        pairs, remembered = [each for each in pairs if each[0] not in _OF_A_SHELF], ()
    pairs = [(n, value[: _LONGEST_LIST if n in _LONG else _LONGEST]) for n, value in pairs]
    if not any(name == "set" for name, _ in pairs):
        own = {name for name, _ in pairs}
        pairs = [*((n, v) for n, v in remembered if n not in own or n in {"set", "gone"}), *pairs]
    first = dict(reversed(pairs))
    unit = cast("Unit", first["unit"]) if first.get("unit") in {"in", "mm"} else _unit_of(pairs)
    put_back = {value for name, value in pairs if name == "back"}
    # A button that was pressed stands in the address where it stands on the page.
    marks = [v for n, v in pairs if n == "gone"] + [v for n, v in pairs if n == "not_there"]
    gone = dict.fromkeys(each for each in marks if each not in put_back)
    read = Question(
        unit=unit,
        language=cast("Language", first["lang"]) if first.get("lang") in {"en", "de"} else usual,
        usual=usual,
        kind=first["kind"] if first.get("kind") in kinds_by_name() else "length",
        typed=first.get("want", ""),
        fields=tuple((n.removeprefix("f."), v) for n, v in pairs if n.startswith("f.") and v),
        sets=() if site else tuple(_sets(pairs)) or _usual(unit),
        site=site,
        cases=tuple(value for name, value in pairs if name == "case" and site),
        gone=tuple(gone),
        wear=cast('Literal["one", "both"]', first["wear"])
        if first.get("wear") in {"one", "both"}
        else "none",
        kept=tuple(_kept(pairs))[:MOST_KEPT],
        timing="in_turn" if first.get("timing") == "in_turn" else "together",
        objective="least_error" if first.get("first") == "least_error" else "fewest_blocks",
        chosen=tuple(filter(None, first.get("use", "").split(CHOSEN_SEPARATOR))),
        search=cast("Search", first["search"])
        if first.get("search") in {"brief", "longer"}
        else "usual",
        assumed=not (site or gone or any(_sets(pairs))),
    )
    return _pressed(read, first)


def _usual(unit: Unit) -> tuple[ShelfSet, ...]:
    return tuple(_sets([("set", _SEPARATOR.join(USUAL[unit]))]))


def _pressed(question: Question, first: Mapping[str, str]) -> Question:
    """The question after the button that sent it: a further set, or the next target."""
    if first.get("add") and first.get("new_set"):
        return _with_set(question, first)
    if first.get("take"):
        return replace(question, kept=_with_lines(question, first.get("lines", "")))
    if first.get("next") and any(value for _, value in question.own.members):
        kept = (*question.kept, question.own)[:MOST_KEPT]
        return replace(question, kept=kept, typed="", fields=())
    return question


def _with_set(question: Question, first: Mapping[str, str]) -> Question:
    composition = first["new_set"]
    unit = _unit_of_set(composition)
    added = ShelfSet(
        id=_free_name(first.get("new_name", ""), () if question.assumed else question.sets),
        composition=composition,
        grade=first.get("new_grade", "1"),
        lengths=read_blocks(first.get("new_lengths", ""), unit),
    )
    before = () if question.assumed else question.sets
    return replace(question, sets=(*before, added), assumed=False)


def _with_lines(question: Question, lines: str) -> tuple[TypedTarget, ...]:
    """Each line a target; a further word on it is its name."""
    kept = question.kept
    for text, name in read_lines(lines, question.unit):
        free = name if name and all(each.name != name for each in kept) else next_name(kept)
        kept = (*kept, TypedTarget(name=free, kind="length", members=(("want", text),)))
    return kept[:MOST_KEPT]


def _free_name(wanted: str, sets: Sequence[ShelfSet]) -> str:
    """The name that was given, else the first free letter."""
    taken = {each.id for each in sets}
    plain = "".join(letter for letter in wanted if letter.isalnum() or letter in "-_.")
    names = [plain, *ascii_uppercase, *map(str, range(len(sets) + 1))]
    free: str = next(name for name in names if name and name not in taken)
    return free


def _unit_of(pairs: Pairs) -> Unit:
    """That of the first set, where nothing else says it."""
    first = next((value for name, value in pairs if name == "set"), "")
    return _unit_of_set((*first.split(_SEPARATOR), "")[1])


def _sets(pairs: Pairs) -> Iterator[ShelfSet]:
    seen: set[str] = set()
    for name, value in pairs:
        parts = value.split(_SEPARATOR)
        if name == "set" and len(parts) >= 3 and all(map(_is_name, parts[:3])):  # noqa: PLR2004 - id, composition, grade
            if parts[0] in seen:
                continue
            seen.add(parts[0])
            unit = _unit_of_set(parts[1])
            lengths = tuple(each for each in parts[3:] if is_block(each, _LENGTH, unit))
            yield ShelfSet(id=parts[0], composition=parts[1], grade=parts[2], lengths=lengths)


def _unit_of_set(name: str) -> Unit:
    """Of its composition; inches, which are longer, where nobody knows it."""
    if name in LOOSE:
        return LOOSE[name]
    try:
        return composition(name).unit
    except InputError:
        return "in"


def _is_name(text: str) -> bool:
    """Whether the API takes it as one."""
    return len(text) <= _LONGEST_NAME and re.match(PRINTABLE, text) is not None


def _kept(pairs: Pairs) -> Iterator[TypedTarget]:
    kept: tuple[TypedTarget, ...] = ()
    for name, value in pairs:
        parts = value.split(_SEPARATOR)
        if name == "kept" and len(parts) > 2 and all("=" in each for each in parts[2:]):  # noqa: PLR2004 - name, kind, members
            members = tuple((n, v) for n, _, v in (each.partition("=") for each in parts[2:]))
            own = _is_name(parts[0]) and all(each.name != parts[0] for each in kept)
            target = TypedTarget(
                name=parts[0] if own else next_name(kept), kind=parts[1], members=members
            )
            kept = (*kept, target)
            yield target


def _shelf_pairs(question: Question) -> Iterable[tuple[str, str]]:
    if not question.assumed:
        yield from (("set", str(each)) for each in question.sets)
    yield from (("case", each) for each in question.cases)
    yield from (("gone", each) for each in question.gone)
    if question.wear != "none":
        yield "wear", question.wear


def _pairs(question: Question) -> Iterator[tuple[str, str]]:
    yield "unit", question.unit
    if question.language != question.usual:
        yield "lang", question.language
    if question.kind != "length":
        yield "kind", question.kind
    yield from _shelf_pairs(question)
    yield from (("kept", str(each)) for each in question.kept)
    if question.timing == "in_turn":
        yield "timing", question.timing
    if question.objective != "fewest_blocks":
        yield "first", question.objective
    yield from ((f"f.{name}", value) for name, value in question.fields)
    if question.typed:
        yield "want", question.typed
