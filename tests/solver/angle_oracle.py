"""The exhaustive search that plans for angle blocks are held to: every sign of every block."""

from collections.abc import Iterator, Sequence
from itertools import product
from typing import TypeAlias

from wrung.answers import Objective
from wrung.blocks import Block
from wrung.checker.contention import overlap
from wrung.targets import AngleBlocksTarget
from wrung.targets.angle_cases import AngleCase

Values: TypeAlias = tuple[int, ...]
"""Targets not served, then the goals of the objective in their order; the least is the best."""

_Way: TypeAlias = tuple[frozenset[int], int]
"""The places of the blocks used, and the worst-case error."""


def best_values(case: AngleCase, objective: Objective) -> Values:
    """The best values of any plan for the targets of a case."""
    ways = [list(_ways(target, case.blocks)) for target in case.targets]
    return min(_plans(case.targets, ways, [], objective))


def _ways(target: AngleBlocksTarget, blocks: Sequence[Block]) -> Iterator[_Way]:
    most = len(blocks) if target.max_blocks is None else target.max_blocks
    for signs in product((0, 1, -1), repeat=len(blocks)):
        total = sum(sign * block.nominal for sign, block in zip(signs, blocks, strict=True))
        used = frozenset(place for place, sign in enumerate(signs) if sign)
        off = abs(total - target.angle)
        if total > 0 and off <= target.max_angle_error and len(used) <= most:
            yield used, off + sum(blocks[place].limit_deviation or 0 for place in used)


def _plans(
    targets: Sequence[AngleBlocksTarget],
    ways: Sequence[Sequence[_Way]],
    chosen: list[_Way | None],
    objective: Objective,
) -> Iterator[Values]:
    place = len(chosen)
    if place == len(targets):
        yield _values([way for way in chosen if way is not None], len(targets), objective)
        return
    wanted = targets[place].angle_requirement()
    busy = {
        block
        for other, way in zip(targets, chosen, strict=False)
        if way is not None and overlap(wanted, other.angle_requirement())
        for block in way[0]
    }
    yield from _plans(targets, ways, [*chosen, None], objective)
    for way in ways[place]:
        if busy.isdisjoint(way[0]):
            yield from _plans(targets, ways, [*chosen, way], objective)


def _values(stacks: Sequence[_Way], asked: int, objective: Objective) -> Values:
    blocks = sum(len(used) for used, _ in stacks)
    errors = [error for _, error in stacks]
    largest, total = max(errors, default=0), sum(errors)
    goals = (blocks, largest, total)
    return (asked - len(stacks), *(goals if objective == "fewest_blocks" else (*goals[1:], blocks)))
