"""Blocks whose addition would let demands be served that are not, and how good they must be.

The demands that a plan serves stay served. Each of the others is completed in turn from the free
pieces, with as few added blocks as possible; what cannot be completed is passed over. So every
suggestion was really built. Where all demands are needed at one time and the plan serves the most,
one block for each demand without a stack is the fewest there can be: without the stacks that hold
added blocks, what remains is a plan too.

Nobody knows how good a block is before it arrives, so nothing is assumed about it: what the rest of
the stack leaves of a limit on the error is divided among the added blocks and stated with them.
"""

from collections.abc import Sequence
from math import isqrt

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Wanted
from wrung.catalogue import all_addable
from wrung.deadline import Deadline
from wrung.metrology.error_measure import QUANTA_A_STEP
from wrung.planning.engines import ask
from wrung.planning.finding import Plan
from wrung.planning.parts import alone, free_pieces, put
from wrung.planning.problem import Problem, error_of, rivals
from wrung.planning.shortage.completion import Completion, as_bought, completions, rest_of


class _Added(Struct, frozen=True, kw_only=True):
    """An added block, and the demands whose stacks hold it at one time or another.

    Its error may be ``most`` at most, as `Completion.most`.
    """

    block: Wanted
    holders: frozenset[int]
    most: int | None


class Additions(Struct, frozen=True, kw_only=True):
    """Blocks that together let every demand be served but those that are left.

    Attributes:
        hopeless: those of them that were not completed with all that is free.
    """

    blocks: tuple[Wanted, ...] = ()
    left: frozenset[int]
    hopeless: frozenset[int] = frozenset()


def additions(problem: Problem, plan: Plan, deadline: Deadline) -> Additions:
    """For the most demands, of the fewest blocks, as far as they were found in time."""
    offers = all_addable([piece.block for piece in problem.pieces])
    missing = [demand for demand, stack in enumerate(plan) if stack is None]
    best, hopeless = Additions(left=frozenset(missing)), frozenset[int]()
    # The demand completed first gets the free pieces, so each one is tried as the first.
    for first in range(len(missing)):
        order = [k for k in missing[first:] + missing[:first] if k not in hopeless]
        found = _in_turn(problem, plan, order, offers, deadline)
        hopeless |= found.hopeless
        found = replace(found, left=found.left | hopeless)
        best = min(best, found, key=lambda each: (len(each.left), len(each.blocks)))
        few = len(best.blocks) <= len(missing) - len(best.left)
        # One block for each demand is few enough to stop; the module says when it is the fewest.
        if (few and best.left <= hopeless) or deadline.passed:
            break
    return best


def _in_turn(
    problem: Problem,
    plan: Plan,
    missing: Sequence[int],
    offers: tuple[Wanted, ...],
    deadline: Deadline,
) -> Additions:
    added: list[_Added] = []
    left, hopeless, begun = set[int](), frozenset[int](), plan
    for place, demand in enumerate(missing):
        # None takes the time of those after it.
        share = deadline.share(1 / (len(missing) - place))
        near = rivals(problem, demand)
        # A block added for another time is available anyway, so it costs nothing here.
        lent = tuple(one.block for one in added if not one.holders & near)
        free = free_pieces(problem, plan, demand)
        offered = completions(problem, demand, free, lent, offers, share)
        judged = (_ratio_met(problem, demand, free, one, share) for one in offered)
        found = next((one for one in judged if one is not None), None)
        if found is None:
            left.add(demand)
            hopeless = hopeless if plan is not begun else frozenset(left)
            continue
        plan = put(plan, demand, found.pieces)
        _hold(added, demand, found, near)
    return Additions(
        blocks=tuple(replace(e.block, max_error=_in_quanta(problem, e.most)) for e in added),
        left=frozenset(left),
        hopeless=hopeless,
    )


def _in_quanta(problem: Problem, most: int | None) -> int | None:
    """A limit of the measure as a limit on worst-case error or on expanded uncertainty, k = 2."""
    if most is None or not problem.measure.by_variance:
        return most
    # Twice the root is the root of four times; rounded down, it is on the safe side.
    return isqrt(4 * QUANTA_A_STEP**2 * most)


def _hold(added: list[_Added], demand: int, found: Completion, near: frozenset[int]) -> None:
    """Note that the demand holds the blocks added for it, lent ones first."""
    taken = near | {demand}
    for block in found.added:
        lent = (i for i, one in enumerate(added) if one.block == block and not one.holders & taken)
        place = next(lent, len(added))
        held = added[place : place + 1]
        limits = [limit for limit in (found.most, *(one.most for one in held)) if limit is not None]
        holders = frozenset({demand}).union(*(one.holders for one in held))
        one = _Added(block=block, holders=holders, most=min(limits, default=None))
        added[place : place + 1] = [one]


def _ratio_met(
    problem: Problem, demand: int, free: Sequence[int], found: Completion, deadline: Deadline
) -> Completion | None:
    """The completion with the error allowed for its added blocks, or with better free pieces.

    None where the error would be too large even with perfect blocks, as far as is known.
    """
    judged = _judged(problem, demand, found)
    if judged is not None or deadline.passed:
        return judged
    share = deadline.share(deadline.tuning.share_for_a_question)
    better = _best_rest(problem, demand, free, found, share)
    return None if better is None else _judged(problem, demand, better)


def _judged(problem: Problem, demand: int, found: Completion) -> Completion | None:
    most = problem.demands[demand].most_error
    if most is None:
        return found
    known = _error_of_rest(problem, demand, found)
    if not found.added:
        return found if known <= most else None
    spare = _spare(problem, most, known, len(found.added))
    return replace(found, most=spare) if spare > 0 else None


def _spare(problem: Problem, most: int, known: int, count: int) -> int:
    """The largest error allowed for each of the added blocks, given that of the rest."""
    if not problem.measure.squares:
        # Rounded down, so that all shares together stay within what is left.
        return (most - known) // count
    # Roots of mean squares add up at worst.
    # The known root was rounded down, so 1 more is taken off.
    root = isqrt(max(most, 0)) - isqrt(known) - (1 if known else 0)
    return (max(root, 0) // count) ** 2


def _error_of_rest(problem: Problem, demand: int, found: Completion) -> int:
    """The error of the stack if the added blocks had none."""
    bought = (as_bought(place, block) for place, block in enumerate(found.added))
    pieces = (*(problem.pieces[piece] for piece in found.pieces), *bought)
    return error_of(alone(problem, problem.demands[demand], pieces), 0, range(len(pieces)))


def _best_rest(
    problem: Problem, demand: int, free: Sequence[int], found: Completion, deadline: Deadline
) -> Completion | None:
    """The same added blocks with the free pieces that make the least error."""
    rest = replace(rest_of(problem.demands[demand], found.added), most_error=None)
    if not found.added or not found.pieces or rest.high < 1:
        return None
    part = alone(problem, rest, (problem.pieces[piece] for piece in free))
    (stack,) = ask(replace(part, objective="least_error"), deadline).plan or (None,)
    return None if stack is None else replace(found, pieces=tuple(free[k] for k in stack))
