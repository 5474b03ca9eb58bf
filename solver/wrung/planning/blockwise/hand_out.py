"""From the number of pieces of each kind in a stack to the pieces themselves."""

from collections.abc import Sequence
from typing import TypeAlias

from wrung.planning.assignment import Beside, beside, places
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.finding import Plan

Stack: TypeAlias = dict[int, int]
"""For each kind, how many of its pieces are in a stack."""


def hand_out(scaled: Scaled, counts: Sequence[Stack | None]) -> Plan:
    """Give each stack pieces of its own; no clique may use more blocks of a kind than there are."""
    stacks = {demand: stack for demand, stack in enumerate(counts) if stack is not None}
    rivals = beside(scaled.problem, stacks)
    pieces: dict[int, list[int]] = {demand: [] for demand in stacks}
    for kinds in scaled.same_blocks():
        for demand, piece in _handed(scaled, kinds, stacks, rivals):
            pieces[demand].append(piece)
    return tuple(
        tuple(sorted(pieces[demand])) if demand in stacks else None for demand in range(len(counts))
    )


def _handed(
    scaled: Scaled, kinds: Sequence[int], stacks: dict[int, Stack], rivals: Beside
) -> list[tuple[int, int]]:
    """By demand, pieces of kinds that are the same blocks, one way round or the other."""
    wanted = {
        demand: [kind for kind in kinds for _ in range(stack.get(kind, 0))]
        for demand, stack in stacks.items()
    }
    there = len(scaled.kinds[kinds[0]].pieces)
    found = places({demand: len(own) for demand, own in wanted.items()}, rivals, there)
    return [
        (demand, scaled.kinds[kind].pieces[place])
        for demand, held in found.items()
        for kind, place in zip(wanted[demand], held, strict=True)
    ]
