"""From alike pieces to the same ones: two successive stacks share the very same blocks."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TypeAlias

from wrung.planning.finding import Plan
from wrung.planning.parts import rivals
from wrung.planning.problem import Piece, Problem, StepsInTurn

_Kind: TypeAlias = tuple[int, int, int, bool]
_Holder: TypeAlias = StepsInTurn
"""Steps that hold pieces as one: they follow one another, so one set of pieces does."""


def hand_on(problem: Problem, plan: Plan) -> Plan:
    """The same plan of served demands, a sequence with the same pieces wherever they are alike.

    Stacks in turn that are needed at times of their own keep the pieces that they have.
    """
    holders = sorted(_holders(problem), key=lambda holder: problem.demands[holder[0][0]].start)
    # Pieces are only held as one by stacks that are needed over the same time.
    if any(len({_time(problem, d) for step in holder for d in step}) > 1 for holder in holders):
        return plan
    kinds = [Counter(_kind(problem.pieces[piece]) for piece in stack or ()) for stack in plan]
    shelf = _shelf(problem)
    held: dict[int, dict[_Kind, list[int]]] = {}
    # An interval graph: in order of start, each takes the first free pieces.
    for holder in holders:
        taken = {
            piece
            for rival in rivals(problem, holder[0][0])
            for pieces in held.get(rival, {}).values()
            for piece in pieces
        }
        wanted = [_together([kinds[demand] for demand in step]) for step in holder]
        own = {
            kind: [piece for piece in shelf[kind] if piece not in taken][:count]
            for kind, count in _most(wanted).items()
        }
        for step in holder:
            held |= _shared_out(own, step, kinds)
    return tuple(
        tuple(sorted(piece for pieces in held[demand].values() for piece in pieces))
        for demand in range(len(plan))
    )


def _shared_out(
    own: dict[_Kind, list[int]], step: Sequence[int], kinds: Sequence[Counter[_Kind]]
) -> dict[int, dict[_Kind, list[int]]]:
    """The pieces of a holder among the stacks of one step, one stack after another."""
    given = Counter[_Kind]()
    shares: dict[int, dict[_Kind, list[int]]] = {}
    for demand in step:
        wanted = kinds[demand]
        shares[demand] = {
            kind: own[kind][given[kind] : given[kind] + count] for kind, count in wanted.items()
        }
        given += wanted
    return shares


def _holders(problem: Problem) -> Iterator[_Holder]:
    following = {k for sequence in problem.sequences for step in sequence for k in step}
    yield from problem.sequences
    yield from (((k,),) for k in range(len(problem.demands)) if k not in following)


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


def _together(wanted: Sequence[Counter[_Kind]]) -> Counter[_Kind]:
    """Of each kind as many pieces as stacks that stand together need."""
    return sum(wanted, Counter[_Kind]())


def _most(wanted: Sequence[Counter[_Kind]]) -> Counter[_Kind]:
    """Of each kind as many pieces as the step that needs most of it."""
    most = Counter[_Kind]()
    for own in wanted:
        most |= own
    return most
