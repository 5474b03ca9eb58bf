"""What comes after the stack: the next best ones, and what one more block buys."""

from collections import Counter
from collections.abc import Iterator, Sequence
from decimal import Decimal

from msgspec import UNSET, Struct

from wrung.rounding import at_most
from wrung.texts import SIGNS
from wrung_service.api.bench.plot import Plotted, plot
from wrung_service.api.bench.question import CHOSEN_SEPARATOR
from wrung_service.api.bench.words import BenchWords
from wrung_service.api.stacks.answer import StackAnswer
from wrung_service.api.stacks.built import BlockInStack, BuiltStack


class OtherBlock(Struct, frozen=True, kw_only=True):
    """A block of such a stack; its unit, as it is written, only where the page has another.

    ``of_set`` is empty where there is one set only.
    """

    id: str
    of_set: str
    nominal: str
    unit: str
    is_wear_block: bool


class OtherStack(Struct, frozen=True, kw_only=True):
    """Another stack for the target.

    Attributes:
        chosen: what a page is asked to show it.
        blocks: base first.
    """

    chosen: str
    blocks: tuple[OtherBlock, ...]
    error: str


class BoughtPlan(Struct, frozen=True, kw_only=True):
    """A plan with its number of blocks and largest error; one stack can be chosen, several not.

    ``error`` is as it is read, and exact where another plan would read the same.
    """

    blocks: int
    error: str
    chosen: str | None


class MoreView(Struct, frozen=True, kw_only=True):
    """As the page shows it.

    Attributes:
        small: the unit of errors, as it is written.
        plot: SVG; None where there are not two plans to compare.
        all_known: whether these are proven to be all plans.
    """

    small: str
    others: tuple[OtherStack, ...]
    plans: tuple[BoughtPlan, ...]
    plot: str | None
    all_known: bool


def more_view(answer: StackAnswer, words: BenchWords, *, named: bool) -> MoreView:
    """What the page shows of an answer that was asked for more; ``named``: with names of sets."""
    traded = () if answer.trade_off is UNSET else answer.trade_off.plans
    others = () if answer.alternatives is UNSET else answer.alternatives.stacks
    exact = [plan.largest_worst_case_error for plan in traded]
    plans = tuple(
        BoughtPlan(
            blocks=plan.total_blocks,
            error=error,
            chosen=_chosen(plan.stacks[0]) if len(plan.stacks) == 1 else None,
        )
        for plan, error in zip(traded, _told_apart(exact), strict=True)
    )
    small = SIGNS[answer.small_unit]
    return MoreView(
        small=small,
        others=tuple(_other(each.stack, named=named) for each in others),
        plans=plans,
        plot=_plot(plans, exact, small, words) if len(plans) > 1 else None,
        all_known=answer.trade_off is not UNSET and answer.trade_off.complete,
    )


def _set_of(block: BlockInStack) -> str:
    """What its id begins with, where it is a block of a set."""
    return block.id.rpartition("/")[0]


def _other(stack: BuiltStack, *, named: bool) -> OtherStack:
    return OtherStack(
        chosen=_chosen(stack),
        blocks=tuple(
            OtherBlock(
                id=each.id,
                of_set=_set_of(each) if named else "",
                nominal=each.nominal,
                unit="" if each.unit is UNSET else SIGNS[each.unit],
                is_wear_block=each.role == "wear",
            )
            for each in stack.blocks
        ),
        error=at_most(stack.worst_case_error),
    )


def _chosen(stack: BuiltStack) -> str:
    return CHOSEN_SEPARATOR.join(each.id for each in stack.blocks)


def _told_apart(errors: Sequence[str]) -> Iterator[str]:
    read = Counter(map(at_most, errors))
    return (at_most(each) if read[at_most(each)] == 1 else each for each in errors)


def _plot(plans: Sequence[BoughtPlan], exact: Sequence[str], small: str, words: BenchWords) -> str:
    points = [
        Plotted(blocks=plan.blocks, error=Decimal(error), label=words.figure(plan.error))
        for plan, error in zip(plans, exact, strict=True)
    ]
    return plot(
        points,
        title=words.say("more_buys"),
        across=words.say("blocks"),
        up=f"{words.say('worst_case')}, {small}",
        mark=words.mark,
    )
