"""Find stacks, and let no answer out that the independent checker does not confirm."""

from collections.abc import Callable, Collection, Sequence
from functools import partial
from typing import Final, Protocol

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Answer, Objective
from wrung.blocks import Block
from wrung.checker.verify import Breach, verify
from wrung.checker.without_claims import without_claims
from wrung.deadline import Cancel, Deadline
from wrung.handwork.for_answer import handwork
from wrung.handwork.instructions import Instructions
from wrung.memory import DEFAULT_MEMORY_MB
from wrung.metrology import WORST_CASE, ErrorMeasure, RequiredRatio
from wrung.metrology.block_remarks import grade_remarks
from wrung.metrology.doubtful import temperature_doubts
from wrung.preferences import Preference
from wrung.targets import LengthTarget, Target, TargetResult, results
from wrung.targets.guard_bands import with_guard_bands
from wrung.targets.placing import conditions_of
from wrung.texts import Phrase
from wrung_service.pool import BusyError, Turn
from wrung_service.usecases.find_choices import Choices, find_choices
from wrung_service.usecases.judge_stacks import JudgedStack, judge_stacks
from wrung_service.usecases.refused import NoteRefusedClaims, confirmed
from wrung_service.usecases.solve_apart import queries_of_parts, solve_apart
from wrung_service.usecases.stack_query import StackQuery, options_of
from wrung_service.usecases.withheld import Withheld, as_if_free, to_buy, withheld

_SHARE_OF_SEARCH: Final = 0.95
"""The rest of the time limit is for the search to stop, for the check, and for the writing."""

_BUDGET_MS: Final = 0.5
_HANDWORK_MS: Final = 0.3
"""For each target, as measured; where that is more than the rest, it is taken off the search."""
_MOST: Final = 0.4
"""The largest share of the time for these two: the search needs the rest."""

_SHARE_BESIDE_CHOICES: Final = 0.5
"""The share of search time for the answer itself where other choices are asked for, too."""

_LEAST_MS: Final = 1.0


class Solve(Protocol):
    """The signature of `wrung.solve`."""

    def __call__(  # noqa: PLR0913 - the options of `wrung.solve`
        self,
        blocks: Sequence[Block],
        targets: Sequence[Target],
        *,
        objective: Objective,
        joint_allowance: int,
        exclude: Collection[str],
        only: Collection[str] | None,
        overdue: Collection[str] = (),
        error_measure: ErrorMeasure = WORST_CASE,
        required_ratios: Sequence[RequiredRatio] = (),
        preferences: Sequence[Preference] = (),
        time_limit_ms: float,
        memory_limit_mb: float = DEFAULT_MEMORY_MB,
        cancel: Cancel | None,
    ) -> Answer:
        """The plan for the targets."""
        ...


class SolvedStacks(Struct, frozen=True, kw_only=True):
    """A checked plan and its results.

    Attributes:
        targets: those of the query, with the guard bands that were found.
        answer: the plan.
        judged: for each of its stacks in turn how sure it is.
        results: for each target that is no plain length, what its stacks come to in its trade.
        remarks: on the figures that errors rest on.
        instructions: for each stack in turn what to do; empty if nobody asked.
        choices: what else could be built, as far as it was asked for.
        withheld: unmet stacks that there may be with what others have of a crib.
    """

    targets: tuple[Target, ...]
    answer: Answer
    judged: tuple[JudgedStack, ...]
    results: tuple[TargetResult, ...] = ()
    remarks: tuple[Phrase, ...] = ()
    instructions: tuple[Instructions, ...] = ()
    choices: Choices = Choices()
    withheld: tuple[Withheld, ...] = ()


def solve_stacks(
    query: StackQuery, *, turn: Turn, solve: Solve, note: NoteRefusedClaims, share: float = 1.0
) -> SolvedStacks:
    """The plan for a query, checked, and how sure its stacks are.

    Where only what it claims fails its check, ``note`` is told, and it comes without its claims.
    ``share`` is how much of the time that is left it may take.

    Raises:
        InputError: the query contradicts itself or names something that does not exist.
        BusyError: waiting left too little time, or the service is stopping.
        AnswerRefusedError: a stack is wrong; that is a fault of this program.
    """

    def ask(targets: Sequence[Target], part: float) -> SolvedStacks:
        wanted = replace(query, targets=tuple(targets))
        return _solve_once(wanted, turn=turn, solve=solve, note=note, share=share * part)

    _, found = with_guard_bands(query.targets, ask, ends_with=(BusyError,))
    return found


def _solve_once(
    query: StackQuery, *, turn: Turn, solve: Solve, note: NoteRefusedClaims, share: float
) -> SolvedStacks:
    by = Deadline(_time_for_searches_ms(query, share * turn.time_for_search_ms()), turn.cancel)

    def solve_part(part: StackQuery, left: int) -> Answer:
        found = solve(
            part.blocks,
            part.targets,
            **options_of(part),
            time_limit_ms=max(_LEAST_MS, _share_of_answer(query) * by.remaining * 1000 / left),
            memory_limit_mb=part.memory_limit_mb,
            cancel=turn.cancel,
        )
        if found.outcome == "unknown":
            turn.refuse_if_cut()
        # Checked before the choices, which start from this answer.
        return confirmed(found, partial(_breaches, part), without_claims, note=note)

    answer = solve_apart(query, solve_part)
    kept: tuple[Withheld, ...] = ()
    if answer.unmet and (all_free := as_if_free(query)):
        free = None if by.passed else _unless_late(lambda: solve_apart(all_free, solve_part))
        answer, kept = to_buy(answer, free), withheld(query, answer, free)
    if len(parts := queries_of_parts(query)) == 1:
        query = parts[0]
    found = worked_out(answer, query, find_choices(answer, query, by, note))
    return replace(found, withheld=kept)


def _unless_late(search: Callable[[], Answer]) -> Answer | None:
    """What a search finds that a good answer can do without."""
    try:
        return search()
    except BusyError:
        return None


def _time_for_searches_ms(query: StackQuery, left_ms: float) -> float:
    """What is left when a budget and instructions for every stack are worked out and written."""
    targets = len(query.targets)
    budgets = targets if query.budgets else len(query.purposes)
    writing = budgets * _BUDGET_MS + (targets if query.handwork else 0) * _HANDWORK_MS
    return left_ms - max((1 - _SHARE_OF_SEARCH) * left_ms, min(writing, _MOST * left_ms))


def _breaches(query: StackQuery, answer: Answer) -> Sequence[Breach]:
    return verify(query.blocks, query.targets, answer, **options_of(query))


def _share_of_answer(query: StackQuery) -> float:
    return _SHARE_BESIDE_CHOICES if query.alternatives or query.trade_off else 1.0


def worked_out(answer: Answer, query: StackQuery, choices: Choices) -> SolvedStacks:
    """What there is to say of the stacks of an answer."""
    # A plain length has no terms of a trade: its stack says everything.
    special = [target for target in query.targets if not isinstance(target, LengthTarget)]
    conditions, allowance = query.conditions, query.joint_allowance
    found: tuple[TargetResult, ...] = ()
    if special:
        found = results(
            special, answer, query.blocks, conditions=conditions, joint_allowance=allowance
        )
    instructed = query.handwork and handwork(
        answer, query.targets, found, query.blocks, unit=query.handwork, conditions=conditions
    )
    return SolvedStacks(
        targets=query.targets,
        answer=answer,
        judged=judge_stacks(answer.stacks, query),
        results=found,
        instructions=instructed or (),
        remarks=(
            *grade_remarks(_used(answer, query)),
            *temperature_doubts(conditions_of(query.targets, conditions).values()),
        ),
        choices=choices,
    )


def _used(answer: Answer, query: StackQuery) -> list[Block]:
    """The blocks of the plan's stacks."""
    ids = {placed.id for stack in answer.stacks for placed in stack.blocks}
    return [block for block in query.blocks if block.id in ids]
