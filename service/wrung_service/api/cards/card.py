"""What stands on a card, from a record with its instructions."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import chain
from typing import Any, Final, TypeAlias, cast

from msgspec import Struct
from msgspec.structs import replace

from wrung.handwork.step import Phase
from wrung.lengths import parse
from wrung.markings import engraved
from wrung.rounding import at_most, read_text, uncertainty
from wrung.stack_drawing import DrawnBlock, StackDrawing
from wrung.texts import SIGNS, decimal_mark, marked, role_in_words
from wrung_service.api.cards.instructed import Instructed
from wrung_service.api.cards.lettering import CardDrawings
from wrung_service.api.cards.words import with_grade, words_of
from wrung_service.api.records.drawing import drawing_of, markings_of
from wrung_service.api.records.shape import RecordedBlock, RecordedStack, StackRecord
from wrung_service.api.stacks.answer import StackAnswer, StackHandwork
from wrung_service.api.stacks.built import StackOfTarget

Draw: TypeAlias = Callable[[StackDrawing, str], CardDrawings]
_CAUTIONS: Final = 2
_MEASURE_BOTH: Final = "step.measure_both"
"""The step that says how warm the stack and the work are to be, where that is not the same."""
_OF_STACK: Final = ("caution.heavy", "caution.brittle")
"""What follows from the blocks themselves, whatever the stack is used for."""
_LETTER: Final = 4
"""A set with a name as short as this is named in drawings; of others the place in the list."""


class LaidOut(Struct, frozen=True, kw_only=True):
    """A block to lay out: the figure on it, and what tells it from others."""

    figure: str
    note: str
    is_wear_block: bool


class Card(Struct, frozen=True, kw_only=True):
    """One card.

    Attributes:
        operation: what the stack is for: the target and the part that the stack plays in it.
        purpose: the kind of use in a word or two.
        length: the wanted length with its decimals, in ``unit``.
        shelf: the sets that its blocks are from.
        error: the most that it can be off, rounded up; ``at_worst`` says that in words.
        uncertainty: expanded, k = 2; None without a budget.
        conditions: material and temperature; that stands in ``uses`` where the work has another.
        blocks: in the order of the case.
        base_first: the figures in the order of standing, with their sets where there are several.
        kept: the same of blocks that stay from the stack before.
        wringing: how it is wrung, and how long blocks and stack lie beside the work, or away from
            it, before and after.
        uses: what is done with it.
        cautions: two or three: what follows from the blocks themselves, then the use's own.
        remarks: what to know of its figures.
    """

    operation: str
    purpose: str
    length: str
    unit: str
    shelf: tuple[str, ...]
    error: str
    at_worst: str
    uncertainty: str | None
    small: str
    conditions: str
    drawings: CardDrawings
    blocks: tuple[LaidOut, ...]
    base_first: tuple[str, ...]
    kept: tuple[str, ...]
    wringing: str
    uses: tuple[str, ...]
    cautions: tuple[str, ...]
    remarks: tuple[str, ...]


def cards_of(work: Instructed, draw: Draw) -> tuple[Card, ...]:
    """A card for each stack of gauge blocks, in the order of the record and in its language.

    Args:
        work: the record, and what is to be done.
        draw: makes the drawings that are wanted, in a language.
    """
    record = work.record
    steps = {(each.target, each.role): each for each in work.answer.handwork or ()}
    kinds = {each.target: each.kind for each in record.targets}
    before: frozenset[str] = frozenset()
    cards: list[Card] = []
    sets = short_names(record)
    for stack, warm in zip(record.stacks, work.temperatures, strict=True):
        maker = _Maker(record, stack, sets, draw)
        card = maker.card(steps.get((stack.target, stack.role)), before, kinds, warm)
        remarks = dict.fromkeys(_remarks(work.answer, stack, maker.words))
        cards.append(replace(card, remarks=tuple(remarks)))
        before = frozenset(block.id for block in stack.blocks)
    return tuple(cards)


def operation_of(stack: StackOfTarget | RecordedStack, language: str) -> str:
    """The target that a stack is for, and which of its stacks it is."""
    role = None if stack.role is None else role_in_words(stack.role, language)
    return " ".join(filter(None, (stack.target, role)))


def _uses(work: StackHandwork) -> Iterator[str]:
    """What is done with the stack, and how warm it and the work are then, if that differs."""
    return (step.text for step in work.steps if step.phase == "use" or step.key == _MEASURE_BOTH)


class _Maker:
    """Makes the card of one stack."""

    def __init__(
        self, record: StackRecord, stack: RecordedStack, sets: Mapping[str, str], draw: Draw
    ) -> None:
        self._record, self._stack, self._draw = record, stack, draw
        self._language = str(record.request["language"])
        self._mark, self.words = decimal_mark(self._language), words_of(self._language)
        self._sets, self._markings = sets, markings_of(record)

    def card(
        self,
        work: StackHandwork | None,
        before: frozenset[str],
        kinds: Mapping[str, str],
        warm: str,
    ) -> Card:
        stack, record, mark = self._stack, self._record, self._mark
        sure = stack.expanded_uncertainty
        shown = self._with_short_names(drawing_of(stack, record))
        small = SIGNS[record.small_unit]
        error = at_most(stack.worst_case_error).replace(".", mark)
        wanted = read_text(stack.length, record.unit)
        apart = work is not None and any(step.key == _MEASURE_BOTH for step in work.steps)
        return Card(
            operation=operation_of(stack, self._language),
            purpose=self.words.get(f"kind.{kinds.get(stack.target)}", ""),
            length=marked(wanted, record.unit, mark),
            unit=SIGNS[record.unit],
            shelf=tuple(self._shelf()),
            error=error,
            at_worst=self.words["at_worst"].format(error=f"{error} {small}"),
            uncertainty=None if sure is None else uncertainty(sure).replace(".", mark),
            small=small,
            conditions=", ".join(self._conditions("" if apart else warm)),
            drawings=self._draw(shown, self._language),
            blocks=tuple(self._laid_out()),
            base_first=tuple(self._in_line(each) for each in shown.blocks),
            kept=tuple(
                self._in_line(each)
                for each in sorted(shown.blocks, key=lambda block: block.order)
                if stack.blocks[each.order - 1].id in before
            ),
            wringing=" ".join(self._wringing(work, "away" if apart else "beside")),
            uses=tuple(_uses(work)) if work else (),
            cautions=tuple(_cautions(work)) if work else (),
            remarks=(),
        )

    def _wringing(self, work: StackHandwork | None, where: str) -> Iterator[str]:
        """How it is wrung, and how long the blocks lie there before, and the stack after."""
        words, before, after = self.words, _minutes(work, "normalise"), _minutes(work, "soak")
        if len(self._stack.blocks) == 1:
            yield words["one_block"]
            after += before
        else:
            first = [words[f"{where}_first"].format(minutes=before)] if before else []
            yield f"{'; '.join((*first, *self._how()))}."
        if after:
            yield words[where].format(minutes=after)

    def _how(self) -> Iterator[str]:
        yield self.words["wring_how"]
        if any(block.role == "wear" for block in self._stack.blocks):
            yield self.words["wear_how"]
        if any(block.body for block in self._stack.blocks):
            yield self.words["step_how"]

    def _shelf(self) -> Iterator[str]:
        """The sets, each with its letter in the drawing where there are several."""
        grades = {block.set: block.grade for block in self._stack.blocks if block.set}
        for name in sorted(grades):
            yield with_letter(self._sets[name], name, with_grade(name, grades[name], self.words))

    def _with_short_names(self, shown: StackDrawing) -> StackDrawing:
        """Long names and serial numbers stand in the list, where there is room for them."""
        by_order = dict(enumerate(self._stack.blocks, start=1))
        return replace(
            shown,
            blocks=tuple(
                replace(block, origin=self._sets.get(by_order[block.order].set or "", ""))
                for block in shown.blocks
            ),
        )

    def _conditions(self, warm: str) -> Iterator[str]:
        for each in sorted({block.material or "steel" for block in self._stack.blocks}):
            yield self.words.get(f"material.{each}", each)
        if warm:
            yield warm.replace(".", self._mark)

    def _laid_out(self) -> Iterator[LaidOut]:
        """Set by set as the case lies, wear blocks last."""

        def place(block: RecordedBlock) -> tuple[bool, str, int]:
            return block.role == "wear", block.set or "", parse(block.nominal, block.unit)

        units = {self._record.unit, *(block.unit for block in self._stack.blocks)}
        for block in sorted(self._stack.blocks, key=place):
            name = block.serial or ("" if block.set or block.body else block.id)
            unit = block.unit if len(units) > 1 else ""
            step = self.words["step_of"].format(body=block.body) if block.body else ""
            parts = (unit, step, self._sets.get(block.set or "", ""), name)
            yield LaidOut(
                figure=self._figure(block),
                note=" ".join(filter(None, parts)),
                is_wear_block=block.role == "wear",
            )

    def _in_line(self, block: DrawnBlock) -> str:
        """Its figure, with its unit where the sum has another, and what its set is called."""
        figure = engraved(block.nominal, block.unit, self._mark, block.marking)
        unit = "" if block.unit == self._record.unit else SIGNS[block.unit]
        return " ".join(filter(None, (figure, unit, block.origin)))

    def _figure(self, block: RecordedBlock) -> str:
        nominal, marking = parse(block.nominal, block.unit), self._markings.get(block.set or "")
        return engraved(nominal, block.unit, self._mark, marking)


def _minutes(work: StackHandwork | None, phase: Phase) -> int:
    """How long they lie in a phase of the work."""
    steps = () if work is None else work.steps
    return sum(step.minutes or 0 for step in steps if step.phase == phase)


def _cautions(work: StackHandwork) -> Iterator[str]:
    """Those of the blocks before those of the use, of which there is always one."""
    of_stack = [each.text for each in work.cautions if each.key in _OF_STACK]
    others = [each.text for each in work.cautions if each.key not in _OF_STACK]
    yield from of_stack
    yield from others[: max(_CAUTIONS - len(of_stack), 1)]


def _remarks(answer: StackAnswer, stack: RecordedStack, words: Mapping[str, str]) -> Iterator[str]:
    """What the answer says of a stack, of its target, and of grades where it rests on one."""
    name = stack.target, stack.role
    said = [s.remarks or () for s in answer.stacks if (s.target, s.role) == name]
    results = cast("Sequence[Any]", answer.results or ())
    said += [r.remarks for r in results if r.target == stack.target]
    graded = any(block.uncertainty_kind == "grade" for block in stack.blocks)
    said.append(tuple(r for r in answer.remarks or () if graded or not r.key.startswith("grade.")))
    for each in chain.from_iterable(said):
        # The grade stands at the head of the card.
        yield words.get(f"remark.{each.key}", each.text)


def short_names(record: StackRecord) -> dict[str, str]:
    """What sets are called on all cards: nothing if there is one, a long name by a letter."""
    blocks = [block for stack in record.stacks for block in stack.blocks]
    names = sorted({block.set for block in blocks if block.set})
    if len(names) == 1 and all(block.set for block in blocks):
        return {names[0]: ""}
    taken = {name for name in names if len(name) <= _LETTER}
    letters = (letter for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" if letter not in taken)
    return {name: name if name in taken else next(letters, name[:_LETTER]) for name in names}


def with_letter(short: str, name: str, said: str) -> str:
    """What is said of a set, behind the letter that stands for it."""
    return f"{short} = {said}" if short not in {"", name} else said
