"""What the page shows of an answer, ready to be put into its templates."""

from collections import Counter
from decimal import Decimal
from itertools import chain, groupby
from typing import Final

from msgspec import UNSET, Struct

from wrung.rounding import at_most, read_text, uncertainty
from wrung.stack_drawing import Drawing
from wrung.texts import SIGNS
from wrung_service.api.bench.question import Question
from wrung_service.api.bench.results import Result, results_of
from wrung_service.api.records.drawing import drawing_of
from wrung_service.api.records.shape import RecordedStack, StackRecord
from wrung_service.api.stacks.answer import StackAnswer
from wrung_service.api.stacks.built import BuiltStack
from wrung_service.api.stacks.unmet import BlockToAdd, UnmetStack
from wrung_service.api.words import texts_of

_A_PAIR: Final = 2
_PITCH: Final = 52.0
"""A row is as high as a finger needs, however many there are."""


class BlockRow(Struct, frozen=True, kw_only=True):
    """A row of the drawing: a block, its nominal length, and its place in the order of wringing."""

    id: str
    figure: str
    order: int


class StackView(Struct, frozen=True, kw_only=True):
    """A stack of the answer.

    Attributes:
        drawing: SVG.
        pitch: the height of a row of it, of which its width is 300; ``top`` is above the rows.
        rows: its blocks from the top.
        error: the most that it can be off, with its sign.
        uncertainty: the expanded uncertainty, k = 2; None without a budget.
    """

    target: str
    role: str | None
    drawing: str
    pitch: float
    top: float
    rows: tuple[BlockRow, ...]
    sum: str
    error: str
    uncertainty: str | None
    blocks: int
    remarks: tuple[str, ...]


class AnswerView(Struct, frozen=True, kw_only=True):
    """An answer on the page.

    Attributes:
        proven: what is proven, as the key of a sentence.
        largest: the largest error of any stack.
        conflict: names of the stacks that cannot stand together.
        only_at_once: whether it would be enough to build them one after another.
        fewest: no plan has fewer blocks; None where that is not known.
        least: no plan has a smaller largest error; None likewise.
    """

    unit: str
    small: str
    stacks: tuple[StackView, ...]
    unmet: tuple[UnmetStack, ...]
    to_add: tuple[BlockToAdd, ...]
    proven: str
    blocks: int
    largest: str
    fewest: int | None
    least: str | None
    remarks: tuple[str, ...]
    results: tuple[Result, ...]
    conflict: tuple[str, ...]
    only_at_once: bool

    @property
    def open(self) -> bool:
        """Whether a longer search may say more."""
        return self.proven not in {"none", "fewest_blocks_both", "least_error_both"}

    @property
    def shown(self) -> tuple[StackView, ...]:
        """The stacks as a page has them: the target typed last on top, its own in their order."""
        by_target = [tuple(own) for _, own in groupby(self.stacks, lambda each: each.target)]
        return tuple(chain.from_iterable(reversed(by_target)))

    @property
    def is_series(self) -> bool:
        """Whether some target has more stacks than a pair, so that its record comes before them."""
        return any(count > _A_PAIR for count in Counter(s.target for s in self.stacks).values())

    def is_as_good_as(self, other: "AnswerView") -> bool:
        """Whether it has as many stacks, no more blocks and no larger error."""
        return (
            len(self.stacks) == len(other.stacks)
            and self.blocks <= other.blocks
            and Decimal(self.largest) <= Decimal(other.largest)
        )


def answer_view(answer: StackAnswer, question: Question) -> AnswerView:
    """What the page shows."""
    record = answer.record
    assert record is not UNSET  # noqa: S101 - it is always asked for
    shortage = answer.shortage
    return AnswerView(
        unit=SIGNS[answer.unit],
        small=SIGNS[answer.small_unit],
        stacks=tuple(
            _stack(each, built, record, question)
            for each, built in zip(record.stacks, answer.stacks, strict=True)
        ),
        unmet=answer.unmet,
        to_add=shortage.blocks_to_add if shortage else (),
        proven=_proven(answer),
        blocks=answer.total_blocks,
        largest=answer.largest_worst_case_error,
        fewest=answer.bounds.total_blocks,
        least=answer.bounds.largest_worst_case_error,
        remarks=texts_of(answer.remarks),
        results=results_of(answer),
        conflict=tuple(each.target for each in shortage.conflict) if shortage else (),
        only_at_once=shortage is not None and shortage.cause == "wanted_at_once",
    )


def _stack(
    stack: RecordedStack, built: BuiltStack, record: StackRecord, question: Question
) -> StackView:
    shown = drawing_of(stack, record)
    drawing = Drawing(shown, language=question.language, pitch=_PITCH)
    by_order = dict(enumerate(stack.blocks, start=1))
    rows = [(block.order, by_order[block.order]) for block in reversed(shown.blocks)]
    return StackView(
        target=stack.target,
        role=stack.role,
        drawing=drawing.svg(),
        pitch=_PITCH,
        top=drawing.top,
        rows=tuple(
            BlockRow(id=block.id, figure=block.nominal, order=place) for place, block in rows
        ),
        sum=read_text(stack.nominal, record.unit),
        error=at_most(stack.worst_case_error),
        uncertainty=stack.expanded_uncertainty and uncertainty(stack.expanded_uncertainty),
        blocks=len(stack.blocks),
        remarks=texts_of(built.remarks),
    )


def _proven(answer: StackAnswer) -> str:
    if answer.outcome == "unknown":
        return "unknown"
    if not answer.stacks:
        return "none"
    if answer.objective_proven and answer.proven:
        return f"{answer.objective}_both"
    fewest, least = answer.bounds.total_blocks, answer.bounds.largest_worst_case_error
    if answer.objective_proven or (answer.objective == "fewest_blocks" and _is_fewest(answer)):
        return f"{answer.objective}_first"
    if answer.objective == "fewest_blocks":
        return "not_proven" if fewest is None else "not_proven_blocks"
    return "not_proven" if least is None else "not_proven_error"


def _is_fewest(answer: StackAnswer) -> bool:
    """Whether the bounds alone say so, though the search was cut before it could."""
    return (answer.served, answer.total_blocks) == (
        answer.bounds.served,
        answer.bounds.total_blocks,
    )
