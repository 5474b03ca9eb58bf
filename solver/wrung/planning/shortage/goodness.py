"""How good added blocks must be where a demand limits the error of its stack.

Nobody knows how good a block is before it arrives, so nothing is assumed about it: what the rest of
the stack leaves of the limit is divided among the added blocks and stated with them.
"""

from collections.abc import Sequence
from math import isqrt

from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.engines import ask
from wrung.planning.parts import subproblem
from wrung.planning.problem import Problem
from wrung.planning.shortage.completion import Completion


def ratio_met(
    problem: Problem, demand: int, free: Sequence[int], found: Completion, deadline: Deadline
) -> Completion | None:
    """The completion with the error allowed for its added blocks, or with better free pieces.

    None where the error would be too large even with perfect blocks, as far as is known.
    """
    if problem.demands[demand].most_error is None:
        return found
    judged = _judged(problem, demand, found)
    if judged is not None or deadline.passed:
        return judged
    better = _best_rest(
        problem, demand, free, found, deadline.share(deadline.tuning.share_for_better_rest)
    )
    return None if better is None else _judged(problem, demand, better)


def _judged(problem: Problem, demand: int, found: Completion) -> Completion | None:
    known = _error_of_rest(problem, demand, found)
    if not found.added:
        return found if problem.demands[demand].allows(known) else None
    spare = _spare(problem, problem.demands[demand].most_error or 0, known, len(found.added))
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
    pieces = [problem.pieces[piece] for piece in found.pieces]
    nominal = sum(piece.nominal for piece in pieces) + sum(b.nominal for b in found.added)
    off = problem.off(demand, nominal) + sum(piece.deviation for piece in pieces)
    joints = (len(pieces) + len(found.added) - 1) * problem.joint_cost
    return problem.measure.error(off, sum(piece.margin for piece in pieces) + joints)


def _best_rest(
    problem: Problem, demand: int, free: Sequence[int], found: Completion, deadline: Deadline
) -> Completion | None:
    """The same added blocks with the free pieces that make the least error."""
    wanted, length = problem.demands[demand], sum(block.nominal for block in found.added)
    if not found.added or not found.pieces or wanted.high - length < 1:
        return None
    rest = replace(
        wanted,
        target=wanted.target - length,
        low=wanted.low - length,
        high=wanted.high - length,
        most=len(free) if wanted.requirement.max_blocks is None else wanted.most - len(found.added),
        wear=wanted.wear - sum(block.role == "wear" for block in found.added),
        most_error=None,
    )
    part = replace(
        subproblem(problem, [demand]),
        pieces=tuple(problem.pieces[piece] for piece in free),
        demands=(rest,),
        objective="least_error",
    )
    plan = ask(part, deadline).finding.plan
    if plan is None or plan[0] is None:
        return None
    return replace(found, pieces=tuple(free[piece] for piece in plan[0]))
