"""From alike pieces to the same ones: what two stacks in turn have alike is the very same block."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TypeAlias

from wrung.planning.finding import Plan
from wrung.planning.parts import rivals
from wrung.planning.problem import Piece, Problem

_Kind: TypeAlias = tuple[int, int, int, bool]
_Holder: TypeAlias = tuple[int, ...]
"""Demands that hold pieces as one: they follow one another, so one set of pieces does."""


def hand_on(problem: Problem, plan: Plan) -> Plan:
    """The same plan of served demands, a sequence with the same pieces wherever they are alike.

    Stacks in turn that are needed at times of their own keep the pieces that they have.
    """
    holders = sorted(_holders(problem), key=lambda holder: problem.demands[holder[0]].start)
    # Pieces are only held as one by stacks that are needed over the same time.
    if any(len({_time(problem, demand) for demand in holder}) > 1 for holder in holders):
        return plan
    kinds = [Counter(_kind(problem.pieces[piece]) for piece in stack or ()) for stack in plan]
    shelf = _shelf(problem)
    held: dict[int, dict[_Kind, list[int]]] = {}
    # An interval graph: by their start each takes the first pieces that are free.
    for holder in holders:
        taken = {
            piece
            for rival in rivals(problem, holder[0])
            for pieces in held.get(rival, {}).values()
            for piece in pieces
        }
        own = {
            kind: [piece for piece in shelf[kind] if piece not in taken][:count]
            for kind, count in _most([kinds[demand] for demand in holder]).items()
        }
        held |= dict.fromkeys(holder, own)
    return tuple(
        tuple(sorted(piece for kind, n in wanted.items() for piece in held[demand][kind][:n]))
        for demand, wanted in enumerate(kinds)
    )


def _holders(problem: Problem) -> Iterator[_Holder]:
    following = {demand for sequence in problem.sequences for demand in sequence}
    yield from problem.sequences
    yield from ((k,) for k in range(len(problem.demands)) if k not in following)


def _time(problem: Problem, demand: int) -> tuple[object, object]:
    return problem.demands[demand].start, problem.demands[demand].end


def _shelf(problem: Problem) -> dict[_Kind, list[int]]:
    shelf: dict[_Kind, list[int]] = {}
    for index, piece in enumerate(problem.pieces):
        shelf.setdefault(_kind(piece), []).append(index)
    return shelf


def _kind(piece: Piece) -> _Kind:
    """Pieces that may stand for one another."""
    return piece.nominal, piece.deviation, piece.margin, piece.wear


def _most(wanted: Sequence[Counter[_Kind]]) -> Counter[_Kind]:
    """Of each kind as many pieces as the stack that needs most of it."""
    most = Counter[_Kind]()
    for own in wanted:
        most |= own
    return most
