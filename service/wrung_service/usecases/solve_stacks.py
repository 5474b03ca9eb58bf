"""Find stacks, and let no answer out that the independent checker does not confirm."""

from collections.abc import Collection, Iterable, Sequence
from typing import Final, Protocol

from msgspec import Struct

from wrung.answers import Answer, Objective
from wrung.blocks import Block
from wrung.handwork.for_answer import handwork
from wrung.handwork.instructions import Instructions
from wrung.metrology import WORST_CASE, ErrorMeasure, RequiredRatio
from wrung.planning.deadline import Cancel
from wrung.targets import LengthTarget, Target, TargetResult, results
from wrung.verify import verify
from wrung_service.pool import SolvePool
from wrung_service.usecases.judge_stacks import JudgedStack, judge_stacks
from wrung_service.usecases.stack_query import StackQuery

_SHARE_OF_SEARCH: Final = 0.95
"""The rest of the time limit is for the search to stop, for the check, and for the writing."""


class Solve(Protocol):
    """What `wrung.solve` looks like."""

    def __call__(  # noqa: PLR0913 - the options of `wrung.solve`
        self,
        blocks: Sequence[Block],
        targets: Sequence[Target],
        *,
        objective: Objective,
        joint_allowance: int,
        exclude: Collection[str],
        only: Collection[str] | None,
        error_measure: ErrorMeasure = WORST_CASE,
        required_ratios: Sequence[RequiredRatio] = (),
        time_limit_ms: float,
        cancel: Cancel | None,
    ) -> Answer:
        """The plan for the targets."""
        ...


class SolvedStacks(Struct, frozen=True, kw_only=True):
    """A checked plan, and what it comes to.

    Attributes:
        answer: the plan.
        judged: for each of its stacks in turn how sure it is.
        results: for each target that is no plain length, what its stacks come to in its trade.
        instructions: for each stack in turn what to do; empty if nobody asked.
    """

    answer: Answer
    judged: tuple[JudgedStack, ...]
    results: tuple[TargetResult, ...] = ()
    instructions: tuple[Instructions, ...] = ()


class AnswerRefusedError(Exception):
    """The checker found the answer wrong; ``rules`` names the rules that it breaks."""

    def __init__(self, rules: Iterable[str]) -> None:
        self.rules = tuple(sorted(set(rules)))
        super().__init__(", ".join(self.rules))


async def solve_stacks(query: StackQuery, *, pool: SolvePool, solve: Solve) -> SolvedStacks:
    """The plan for a query, checked, and how sure its stacks are.

    Raises:
        InputError: the query contradicts itself or names something that does not exist.
        BusyError: no worker was free.
        AnswerRefusedError: the answer is wrong; that is a fault of this program.
    """

    def work(cancel: Cancel, remaining_ms: float) -> SolvedStacks:
        answer = solve(
            query.blocks,
            query.targets,
            objective=query.objective,
            joint_allowance=query.joint_allowance,
            exclude=query.exclude,
            only=query.only,
            error_measure=query.error_measure,
            required_ratios=query.required_ratios,
            time_limit_ms=remaining_ms * _SHARE_OF_SEARCH,
            cancel=cancel,
        )
        return _worked_out(_checked(answer, query), query)

    return await pool.run(work, limit_ms=query.time_limit_ms)


def _worked_out(answer: Answer, query: StackQuery) -> SolvedStacks:
    special = [target for target in query.targets if not isinstance(target, LengthTarget)]
    asked = query.handwork
    return SolvedStacks(
        answer=answer,
        judged=judge_stacks(answer, query),
        results=results(special, answer),
        instructions=handwork(answer, query.targets, query.blocks) if asked else (),
    )


def _checked(answer: Answer, query: StackQuery) -> Answer:
    breaches = verify(
        query.blocks,
        query.targets,
        answer,
        objective=query.objective,
        joint_allowance=query.joint_allowance,
        exclude=query.exclude,
        only=query.only,
        error_measure=query.error_measure,
        required_ratios=query.required_ratios,
    )
    if breaches:
        raise AnswerRefusedError(breach.rule for breach in breaches)
    return answer
