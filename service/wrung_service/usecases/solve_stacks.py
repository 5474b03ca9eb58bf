"""Find stacks, and let no answer out that the independent checker does not confirm."""

from collections.abc import Collection, Iterable, Sequence
from typing import Final, Protocol

from wrung.answers import Answer, Objective
from wrung.blocks import Block
from wrung.planning.deadline import Cancel
from wrung.targets import Target
from wrung.verify import verify
from wrung_service.pool import SolvePool
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
        time_limit_ms: float,
        cancel: Cancel | None,
    ) -> Answer:
        """The plan for the targets."""
        ...


class AnswerRefusedError(Exception):
    """The checker found the answer wrong; ``rules`` names the rules that it breaks."""

    def __init__(self, rules: Iterable[str]) -> None:
        self.rules = tuple(sorted(set(rules)))
        super().__init__(", ".join(self.rules))


async def solve_stacks(query: StackQuery, *, pool: SolvePool, solve: Solve) -> Answer:
    """The plan for a query, checked.

    Raises:
        InputError: the query contradicts itself or names something that does not exist.
        BusyError: no worker was free.
        AnswerRefusedError: the answer is wrong; that is a fault of this program.
    """

    def work(cancel: Cancel, remaining_ms: float) -> Answer:
        answer = solve(
            query.blocks,
            query.targets,
            objective=query.objective,
            joint_allowance=query.joint_allowance,
            exclude=query.exclude,
            only=query.only,
            time_limit_ms=remaining_ms * _SHARE_OF_SEARCH,
            cancel=cancel,
        )
        return _checked(answer, query)

    return await pool.run(work, limit_ms=query.time_limit_ms)


def _checked(answer: Answer, query: StackQuery) -> Answer:
    breaches = verify(
        query.blocks,
        query.targets,
        answer,
        objective=query.objective,
        joint_allowance=query.joint_allowance,
        exclude=query.exclude,
        only=query.only,
    )
    if breaches:
        raise AnswerRefusedError(breach.rule for breach in breaches)
    return answer
