"""From how many pieces of each kind a stack has to which pieces it has."""

from collections.abc import Iterator, Sequence
from typing import TypeAlias

from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.finding import Plan

Stack: TypeAlias = dict[int, int]
"""Per kind, how many of its pieces stand in a stack."""


def hand_out(scaled: Scaled, counts: Sequence[Stack | None]) -> Plan:
    """Give each stack pieces of its own.

    Demands in the order in which they begin, each with the first pieces that no demand still holds:
    an interval graph is coloured that way with as few colours as its largest clique has members,
    and no crowd uses more pieces of a kind than there are.
    """
    problem = scaled.problem
    rivals = [
        {other for crowd in problem.crowds if demand in crowd for other in crowd}
        for demand in range(len(problem.demands))
    ]
    stacks: list[tuple[int, ...] | None] = [None] * len(counts)
    for demand in sorted(range(len(counts)), key=lambda k: problem.demands[k].start):
        wanted = counts[demand]
        if wanted is not None:
            held = {piece for rival in rivals[demand] for piece in stacks[rival] or ()}
            taken = {problem.pieces[piece].block.id for piece in held}
            stacks[demand] = tuple(sorted(_pick(scaled, wanted, taken)))
    return tuple(stacks)


def _pick(scaled: Scaled, wanted: Stack, taken: set[str]) -> Iterator[int]:
    """Pieces of blocks that are not taken, also not by this stack, the other way round."""
    pieces = scaled.problem.pieces
    for kind, count in wanted.items():
        free = [p for p in scaled.kinds[kind].pieces if pieces[p].block.id not in taken]
        taken.update(pieces[p].block.id for p in free[:count])
        yield from free[:count]
