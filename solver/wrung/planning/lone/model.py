"""A question about one stack, for the model over single blocks: where there are too many sums."""

from collections.abc import Sequence
from typing import Final, Literal, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.blockwise.rules import RULES
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.blockwise.solving import model_of, solve
from wrung.planning.problem import Problem

Want: TypeAlias = Literal["fewest", "longest", "shortest"]


class Window(Struct, frozen=True, kw_only=True):
    """Lengths ``low..high``, quanta, and which stack among those that have one is wanted."""

    low: int
    high: int
    want: Want


class Probe(Struct, frozen=True, kw_only=True):
    """The answer.

    Attributes:
        stack: ascending indexes of its pieces, or None.
        decided: whether the answer is proven: that the stack is the longest or shortest, or that
            there is none. A stack that is only wanted to exist is its own proof.
    """

    stack: tuple[int, ...] | None
    decided: bool


UNDECIDED: Final = Probe(stack=None, decided=False)
NO_STACK: Final = Probe(stack=None, decided=True)


def search_window(
    problem: Problem, demand: int, free: Sequence[int], window: Window, deadline: Deadline
) -> Probe:
    """The wanted stack with its length in the window, if found and proven before the deadline."""
    if deadline.remaining < deadline.tuning.least_seconds_for_one:
        return UNDECIDED
    choices = model_of(Scaled(_alone(problem, demand, free, window)), RULES, deadline)
    if choices is None:
        return UNDECIDED
    choices.model.add(choices.served[0] == 1)
    aim = choices.blocks[0] if window.want == "fewest" else choices.largest
    until, effort = deadline.share(deadline.tuning.share_for_one), deadline.tuning.effort_for_one
    result = solve(choices, aim + 0, (None,), until, effort)
    if result.verdict == "impossible":
        return NO_STACK
    # Any stack shows that one exists; that it is the longest or shortest has to be proven.
    enough = result.verdict == "best" or (result.verdict == "found" and window.want == "fewest")
    if not enough or result.plan is None:
        return UNDECIDED
    return Probe(stack=tuple(free[place] for place in result.plan[0] or ()), decided=True)


def _alone(problem: Problem, demand: int, free: Sequence[int], window: Window) -> Problem:
    """The demand by itself; its stacks only err by how far they are from one end of the window."""
    end = window.low if window.want == "shortest" else window.high
    wanted = replace(
        problem.demands[demand],
        target=end,
        low=window.low,
        high=window.high,
        most_error=None,
        priority_class=0,
    )
    return Problem(
        pieces=tuple(replace(problem.pieces[piece], deviation=0, margin=0) for piece in free),
        demands=(wanted,),
        cliques=((0,),),
        objective="fewest_blocks",
        joint_allowance=0,
        joint_cost=0,
    )
