"""Find and check what else could be built, as far as a request asks for it."""

from typing import Final

from msgspec import Struct

import wrung
from wrung.answers import Answer
from wrung.checker.choices import verify_alternatives, verify_trade_off
from wrung.checker.without_claims import alternatives_without_claims, trade_off_without_claims
from wrung.choices import Alternatives, TradeOff
from wrung.deadline import Deadline
from wrung_service.usecases.judge_stacks import JudgedStack, judge_stacks
from wrung_service.usecases.refused import NoteRefusedClaims, confirmed
from wrung_service.usecases.stack_query import StackQuery, options_of


class JudgedAlternatives(Struct, frozen=True, kw_only=True):
    """Checked alternatives, and how sure the stack of each is."""

    found: Alternatives
    judged: tuple[JudgedStack, ...]


class JudgedTradeOff(Struct, frozen=True, kw_only=True):
    """A checked trade-off, and how sure the stacks of each point are."""

    found: TradeOff
    judged: tuple[tuple[JudgedStack, ...], ...]


class Choices(Struct, frozen=True, kw_only=True):
    """What else could be built; None for what was not asked."""

    alternatives: JudgedAlternatives | None = None
    trade_off: JudgedTradeOff | None = None


_SHARE_BESIDE_TRADE_OFF: Final = 0.5
"""The share of the time left for alternatives where a trade-off is asked for, too."""

_LEAST_MS: Final = 1.0


def find_choices(
    answer: Answer, query: StackQuery, by: Deadline, note: NoteRefusedClaims
) -> Choices:
    """What the query asks for beside the answer, from the time that the answer left.

    Raises:
        AnswerRefusedError: it is wrong; that is a fault of this program.
    """
    others = trade_off = None
    if query.alternatives:
        # The trade-off, which is last, has all that the alternatives leave.
        part = by.share(_SHARE_BESIDE_TRADE_OFF) if query.trade_off else by
        others = _alternatives(answer, query, part, note)
    if query.trade_off:
        trade_off = _trade_off(answer, query, by, note)
    return Choices(alternatives=others, trade_off=trade_off)


def _alternatives(
    answer: Answer, query: StackQuery, by: Deadline, note: NoteRefusedClaims
) -> JudgedAlternatives:
    options = options_of(query)
    found = wrung.alternatives(
        query.blocks,
        query.targets,
        answer,
        count=query.alternatives,
        time_limit_ms=_left_ms(by),
        memory_limit_mb=query.memory_limit_mb,
        cancel=by.cancel,
        **options,
    )
    found = confirmed(
        found,
        lambda each: verify_alternatives(query.blocks, query.targets, answer, each, **options),
        alternatives_without_claims,
        # A wrong rank is wrong even without its proof; an empty list claims nothing.
        lambda _: Alternatives(),
        note=note,
    )
    judged = judge_stacks((each.stack for each in found.stacks), query)
    return JudgedAlternatives(found=found, judged=judged)


def _trade_off(
    answer: Answer, query: StackQuery, by: Deadline, note: NoteRefusedClaims
) -> JudgedTradeOff:
    options = options_of(query)
    found = wrung.trade_off(
        query.blocks,
        query.targets,
        answer,
        time_limit_ms=_left_ms(by),
        memory_limit_mb=query.memory_limit_mb,
        cancel=by.cancel,
        **options,
    )
    found = confirmed(
        found,
        lambda each: verify_trade_off(query.blocks, query.targets, answer, each, **options),
        trade_off_without_claims,
        lambda _: TradeOff(),
        note=note,
    )
    judged = tuple(judge_stacks(point.stacks, query) for point in found.points)
    return JudgedTradeOff(found=found, judged=judged)


def _left_ms(by: Deadline) -> float:
    """The time left; where there is none, enough to say that nothing was found."""
    return max(by.remaining * 1000, _LEAST_MS)
