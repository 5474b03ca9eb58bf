"""The next best stacks of a single target, each with its rank proven."""

from collections.abc import Iterator, Sequence
from typing import Unpack

from msgspec.structs import replace

from wrung.answers import Answer
from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.choices import Alternative, Alternatives, alternatives_faults
from wrung.deadline import Cancel, limits
from wrung.errors import InputError
from wrung.memory import DEFAULT_MEMORY_MB
from wrung.options import Options
from wrung.order import Order
from wrung.planning.assembly import built_stack, compared_figures, plan_of
from wrung.planning.finding import totals, values_of
from wrung.planning.problem import Problem, build_problem
from wrung.planning.proof import Proof
from wrung.planning.ranking import Ranked, kinds_of, rank
from wrung.planning.succession.counting import cost_of
from wrung.targets import Target


@typed
def alternatives(  # noqa: PLR0913 -- what was asked, what came of it, how many, how long, how much
    blocks: Sequence[Block],
    targets: Sequence[Target],
    answer: Answer,
    *,
    count: int = 5,
    time_limit_ms: float = 2000,
    memory_limit_mb: float = DEFAULT_MEMORY_MB,
    cancel: Cancel | None = None,
    **options: Unpack[Options],
) -> Alternatives:
    """The next best stacks beside the one that `wrung.solve` gave for a single target.

    Args:
        blocks: as given to `wrung.solve`.
        targets: as given to it; they must amount to exactly one stack.
        answer: what it returned.
        count: how many, 1 to 20.
        time_limit_ms: for this call alone, ms. When it runs out, the stacks found so far are
            returned.
        memory_limit_mb: the most memory that the search may hold at any time, MB.
        cancel: ends the search from another thread.
        options: all others as given to `wrung.solve`.

    Returns:
        The stacks, best first, with ranks that count the answer's own stack. Of blocks that may
        stand for one another each has those that are preferred.

    Raises:
        InputError: as `wrung.solve`, and where the targets amount to several stacks or ``count`` is
            out of range; this points to ``/alternatives``.
    """
    deadline = limits(time_limit_ms, cancel, memory_limit_mb)
    problem = _preferred_first(build_problem(Order(blocks=blocks, targets=targets, **options)))
    if faults := [*alternatives_faults(count, len(problem.demands))]:
        raise InputError(faults)
    (own,) = plan_of(problem, answer)
    # One more than asked for, as the answer's own stack is usually one of them.
    ranking = rank(problem, count + 1, deadline)
    made_of = None if own is None else kinds_of(problem, own)
    others = [each for each in ranking.stacks if kinds_of(problem, each.stack) != made_of]
    return Alternatives(
        stacks=tuple(_written(problem, others[:count], own)),
        complete=ranking.complete and len(others) <= count,
    )


def _preferred_first(problem: Problem) -> Problem:
    """The same; of pieces that may stand for one another, those that are preferred are taken.

    In one stack a piece is used once, so that what its pieces cost by one preference after the
    other is least where that of each is.
    """
    costs = [cost_of(problem, each).pieces for each in problem.preferences]
    order = sorted(range(len(problem.pieces)), key=lambda k: [each[k] for each in costs])
    return replace(problem, pieces=tuple(problem.pieces[k] for k in order)) if costs else problem


def _written(
    problem: Problem,
    others: Sequence[Ranked],
    own: tuple[int, ...] | None,
) -> Iterator[Alternative]:
    stacks = [each.stack for each in others] + ([] if own is None else [own])
    values = [values_of(problem, (stack,)) for stack in stacks]
    for each, value in zip(others, values, strict=False):
        reached = totals(problem, (each.stack,))
        yield Alternative(
            # Stacks as good as one another share a rank.
            rank=1 + sum(other < value for other in values),
            proven=each.proven,
            stack=built_stack(problem, 0, each.stack),
            # What is proven is the rank: its figures are not bounds on all stacks.
            compared_errors=compared_figures(problem, reached, Proof()),
        )
