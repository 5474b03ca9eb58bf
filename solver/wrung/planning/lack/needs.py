"""What demands that are needed at one time use up together: simple proofs of a shortage.

Each rule names something that every stack needs some of, and how much of it is on the shelf.
Demands that need more than there is cannot all be served. The rules are necessary conditions only;
demands that pass them all may still not fit.
"""

from collections.abc import Callable, Iterator, Sequence
from itertools import accumulate, pairwise
from typing import Final, TypeAlias

from msgspec import Struct

from wrung.planning.problem import Demand, Piece, Problem


class Lack(Struct, frozen=True, kw_only=True):
    """Demands that are needed at one time, what each needs of one thing, and how much there is.

    Attributes:
        demands: indexes of demands, those that need least first.
        needs: what each needs at least.
        supply: what they have to share.
    """

    demands: tuple[int, ...]
    needs: tuple[int, ...]
    supply: int

    @property
    def unserved(self) -> int:
        """So many of them at least cannot be served."""
        return sum(1 for used in accumulate(self.needs) if used > self.supply)

    @property
    def conflict(self) -> tuple[int, ...]:
        """The fewest of them that need more than there is."""
        greediest = accumulate(reversed(self.needs))
        count = 1 + sum(1 for used in greediest if used <= self.supply)
        return tuple(sorted(self.demands[-count:]))


def lacks(problem: Problem) -> tuple[Lack, ...]:
    """Every rule that some demands break together."""
    found = (
        _lack(problem, crowd, need, supply)
        for crowd in problem.crowds
        for rule in _RULES
        for need, supply in rule(problem, [problem.demands[k] for k in crowd])
    )
    return tuple(lack for lack in found if sum(lack.needs) > lack.supply)


_Need: TypeAlias = Callable[[Demand], int]
_Rule: TypeAlias = Callable[[Problem, Sequence[Demand]], Iterator[tuple[_Need, int]]]


def _lack(problem: Problem, crowd: Sequence[int], need: _Need, supply: int) -> Lack:
    ordered = sorted(crowd, key=lambda k: need(problem.demands[k]))
    needs = tuple(need(problem.demands[k]) for k in ordered)
    return Lack(demands=tuple(ordered), needs=needs, supply=supply)


def _fine_places(problem: Problem, crowd: Sequence[Demand]) -> Iterator[tuple[_Need, int]]:
    """A length that is no multiple of a step takes at least one piece that is none either."""
    usable = _usable(problem, crowd)
    for step in _steps(usable):
        yield _no_multiple_of(step), sum(1 for piece in usable if piece.nominal % step)


def _wear_blocks(problem: Problem, _: Sequence[Demand]) -> Iterator[tuple[_Need, int]]:
    """Every end that asks for a wear block takes one."""
    yield lambda demand: demand.wear, sum(piece.wear for piece in problem.pieces)


def _total_length(problem: Problem, crowd: Sequence[Demand]) -> Iterator[tuple[_Need, int]]:
    """The stacks together are no longer than the pieces together."""
    usable = _usable(problem, crowd)
    yield lambda demand: max(demand.low, 0), sum(piece.nominal for piece in usable)


_RULES: Final[tuple[_Rule, ...]] = (_fine_places, _wear_blocks, _total_length)


def _usable(problem: Problem, crowd: Sequence[Demand]) -> list[Piece]:
    worn = any(demand.wear for demand in crowd)
    return [piece for piece in problem.pieces if worn or not piece.wear]


def _steps(pieces: Sequence[Piece]) -> list[int]:
    """The steps of the series in play: how far apart neighbouring lengths are."""
    lengths = sorted({piece.nominal for piece in pieces})
    return sorted({longer - shorter for shorter, longer in pairwise(lengths)})


def _no_multiple_of(step: int) -> _Need:
    return lambda demand: int(demand.high // step * step < demand.low)
