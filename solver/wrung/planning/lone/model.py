"""A question about one stack, and a CP-SAT model for it where its sums are too many to list."""

from collections.abc import Mapping, Sequence
from math import gcd
from typing import Final, Literal, TypeAlias

from msgspec import Struct
from ortools.sat.python import cp_model

from wrung.deadline import Deadline
from wrung.planning.problem import Piece, Problem
from wrung.planning.solvers import new_solver, run

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
    model = cp_model.CpModel()
    pieces = {piece: problem.pieces[piece] for piece in free}
    chosen = {piece: model.new_bool_var("") for piece in free}
    step = gcd(*(piece.nominal for piece in pieces.values())) or 1
    length = sum(pieces[index].nominal // step * used for index, used in chosen.items())
    wear = sum(used for index, used in chosen.items() if pieces[index].wear)
    count = sum(chosen.values())
    model.add(length >= -(-window.low // step))
    model.add(length <= window.high // step)
    for same in _by_block(pieces).values():
        model.add_at_most_one(chosen[index] for index in same)
    model.add(count <= problem.demands[demand].most)
    model.add(wear == problem.demands[demand].wear)
    model.minimize({"fewest": count, "longest": -length, "shortest": length}[window.want])
    return _search(model, chosen, window, deadline)


def _by_block(pieces: Mapping[int, Piece]) -> dict[str, list[int]]:
    """The pieces that are one block; as lengths each block is one piece."""
    same: dict[str, list[int]] = {}
    for index, piece in pieces.items():
        same.setdefault(piece.block.id, []).append(index)
    return {block: indexes for block, indexes in same.items() if len(indexes) > 1}


def _search(
    model: cp_model.CpModel,
    chosen: Mapping[int, cp_model.IntVar],
    window: Window,
    deadline: Deadline,
) -> Probe:
    solver = new_solver(
        deadline.share(deadline.tuning.share_for_one), deadline.tuning.effort_for_one
    )
    verdict = run(solver, model, deadline)
    if verdict == "impossible":
        return NO_STACK
    # Any stack shows that one exists; that it is the longest or shortest has to be proven.
    enough = verdict == "best" or (verdict == "found" and window.want == "fewest")
    if not enough:
        return UNDECIDED
    stack = tuple(piece for piece, used in chosen.items() if solver.boolean_value(used))
    return Probe(stack=stack, decided=True)
