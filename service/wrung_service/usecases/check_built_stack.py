"""Check a stack built by hand, and look for a better one."""

from collections.abc import Iterator
from functools import partial
from typing import Final

from msgspec import Struct

from wrung.answers import Answer, Objective
from wrung.checker.verify import verify
from wrung.checker.without_claims import without_claims
from wrung.metrology import Better, Decision, StackCheck, better_stacks, check_stack, decide
from wrung.metrology.block_remarks import certified_remarks, grade_remarks
from wrung.metrology.doubtful import temperature_doubts
from wrung.targets import LengthTarget, WearBlocks
from wrung.targets.tolerance_ratios import purpose_remarks
from wrung.texts import Phrase
from wrung_service.pool import Turn
from wrung_service.usecases.refused import NoteRefusedClaims, confirmed
from wrung_service.usecases.solve_stacks import Solve
from wrung_service.usecases.stack_check_query import StackCheckQuery

_OBJECTIVES: Final[tuple[Objective, ...]] = ("fewest_blocks", "least_error")
_SHARE_OF_EACH: Final = 0.45
"""The share of the time left for one search; the rest is for checking and writing."""


class CheckedStack(Struct, frozen=True, kw_only=True):
    """A stack built by hand, judged.

    Attributes:
        stack_remarks: what to know of the stack before it is used.
        remarks: on the figures that its error rests on.
        better_stacks_proven: whether no stack has fewer blocks, or a smaller error, than those
            of ``better``.
    """

    check: StackCheck
    decision: Decision | None
    stack_remarks: tuple[Phrase, ...]
    remarks: tuple[Phrase, ...]
    better: tuple[Better, ...]
    better_stacks_proven: bool


def check_built_stack(
    query: StackCheckQuery, *, turn: Turn, solve: Solve, note: NoteRefusedClaims
) -> CheckedStack:
    """Check a stack.

    Raises:
        InputError: the query names something that does not exist or contradicts itself.
        BusyError: waiting left too little time, or the service is stopping.
        AnswerRefusedError: a stack given as better is not; that is a fault of this program.
    """
    check = _check(query)
    answers = tuple(_better(query, solve, turn, note)) if query.find_better_stacks else ()
    return CheckedStack(
        check=check,
        decision=decide(check.budget, query.purpose) if query.purpose else None,
        stack_remarks=_remarks(check, query),
        remarks=(*grade_remarks(check.blocks), *temperature_doubts((query.conditions,))),
        better=better_stacks(check, answers),
        # `all` of no answers is true, but then nothing was searched.
        better_stacks_proven=bool(answers) and all(answer.proven for answer in answers),
    )


def _check(query: StackCheckQuery) -> StackCheck:
    return check_stack(
        query.shelf,
        query.stack,
        query.length,
        conditions=query.conditions,
        joint_allowance=query.joint_allowance,
        instruments=query.instruments,
    )


def _remarks(check: StackCheck, query: StackCheckQuery) -> tuple[Phrase, ...]:
    purpose = query.purpose
    of_part = purpose_remarks(check.budget, purpose) if purpose else ()
    return (*of_part, *certified_remarks(dict.fromkeys(check.blocks)))


def _better(
    query: StackCheckQuery, solve: Solve, turn: Turn, note: NoteRefusedClaims
) -> Iterator[Answer]:
    """Stacks with the fewest blocks and with the least error, each checked."""
    each_ms = turn.time_for_search_ms() * _SHARE_OF_EACH
    targets = (LengthTarget(ref="better", length=query.length, wear_blocks=_wear(query)),)
    # `usable`, not the whole shelf: no better stack has an overdue block.
    for objective in _OBJECTIVES:
        answer = solve(
            query.usable,
            targets,
            objective=objective,
            joint_allowance=query.joint_allowance,
            exclude=(),
            only=None,
            time_limit_ms=each_ms,
            memory_limit_mb=query.memory_limit_mb,
            cancel=turn.cancel,
        )
        if answer.outcome == "unknown":
            turn.refuse_if_cut()
        check = partial(
            verify,
            query.usable,
            targets,
            objective=objective,
            joint_allowance=query.joint_allowance,
        )
        yield confirmed(answer, check, without_claims, note=note)


def _wear(query: StackCheckQuery) -> WearBlocks:
    """As many ends with wear blocks as the stack built by hand has."""
    roles = {block.id: block.role for block in query.shelf}
    ends = [name for name in query.stack if roles[name] == "wear"]
    if not ends:
        return "none"
    # A stack has two ends: a third wear block is a mistake, not something to search for.
    return "one" if len(ends) == 1 else "both"
