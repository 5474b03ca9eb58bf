"""The problem in small whole numbers: alike pieces counted, lengths divided by their common step.

Small coefficients propagate better, and counting alike pieces removes their symmetry.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from math import gcd

from msgspec import Struct
from msgspec.structs import replace

from wrung.lengths import Unit
from wrung.planning.assignment import assigned
from wrung.planning.finding import Plan
from wrung.planning.problem import Demand, Piece, Problem


class Kind(Struct, frozen=True, kw_only=True):
    """Interchangeable pieces: the same nominal, deviation, margin and role.

    Attributes:
        piece: one of them.
        pieces: the indexes of all of them, ascending.
    """

    piece: Piece
    pieces: tuple[int, ...]

    @property
    def unit(self) -> Unit:
        """The unit that the pieces are marked in."""
        return self.piece.block.unit


class Scaled(Struct, frozen=True, kw_only=True):
    """A problem in steps (lengths) and grains (errors).

    Attributes:
        problem: what was scaled.
        kinds: the pieces that some demand could use.
        step: greatest common divisor of their nominal lengths, quanta.
        grain: greatest common divisor of everything that enters an error, quanta.
        windows: for each demand the lengths that serve it, steps; empty where none can.
        nominals: per kind, steps.
        deviations: per kind, grains.
        burdens: per kind its margin and one joint allowance, grains.
    """

    problem: Problem
    kinds: tuple[Kind, ...]
    step: int
    grain: int
    windows: tuple[range, ...]
    nominals: tuple[int, ...]
    deviations: tuple[int, ...]
    burdens: tuple[int, ...]

    @property
    def joint(self) -> int:
        """The joint allowance, grains."""
        return self.problem.joint_cost // self.grain

    @property
    def stride(self) -> int:
        """How much further off a stack is with each further length of a wide window, grains."""
        return 0 if self.problem.measure.corrected else self.step // self.grain

    @property
    def worst(self) -> int:
        """No stack has a larger error, grains."""
        parts = zip(self.kinds, self.burdens, self.deviations, strict=True)
        own = sum(len(kind.pieces) * (burden + abs(off)) for kind, burden, off in parts)
        if self.squares:
            return self.problem.measure.error(self.farthest, own)
        return own + max((abs(off) for k in self.open for off in self._offsets(k)), default=0)

    @property
    def squares(self) -> bool:
        """Whether the offset of a stack counts squared; the grain is then 1."""
        return self.problem.measure.squares

    @property
    def farthest(self) -> int:
        """No stack is off more, grains."""
        pairs = zip(self.kinds, self.deviations, strict=True)
        own = sum(len(kind.pieces) * abs(off) for kind, off in pairs)
        return own + max((abs(off) for k in self.open for off in self._offsets(k)), default=0)

    @property
    def open(self) -> tuple[int, ...]:
        """The demands with a window."""
        return tuple(k for k, window in enumerate(self.windows) if window)

    def offset(self, demand: int) -> int:
        """How far the first length of the window is from the target, grains."""
        return self._offsets(demand)[0]

    def usable(self, demand: int) -> tuple[int, ...]:
        """The kinds that may stand in the demand's stack."""
        window, wear = self.windows[demand], self.problem.demands[demand].wear
        signed = self.problem.signed
        return tuple(
            index
            for index, kind in enumerate(self.kinds)
            if (signed or self.nominals[index] < window.stop) and (wear or not kind.piece.wear)
        )

    def same_blocks(self) -> tuple[tuple[int, ...], ...]:
        """The kinds grouped by block: each as it adds and as it subtracts."""
        groups: dict[tuple[str, ...], list[int]] = {}
        for index, kind in enumerate(self.kinds):
            blocks = tuple(self.problem.pieces[piece].block.id for piece in kind.pieces)
            groups.setdefault(blocks, []).append(index)
        return tuple(map(tuple, groups.values()))

    def plan(self, counts: Sequence[Mapping[int, int] | None]) -> Plan:
        """The pieces of stacks with so many of each kind; None is no stack."""
        kinds = [kind.pieces for kind in self.kinds]
        return assigned(self.problem, counts, kinds, self.same_blocks())

    def without(self, demands: Collection[int]) -> "Scaled":
        """The same with these demands' windows closed."""
        kept = (range(0) if k in demands else w for k, w in enumerate(self.windows))
        return replace(self, windows=tuple(kept))

    def _offsets(self, demand: int) -> tuple[int, int]:
        window = self.windows[demand]
        ends = (self.problem.off(demand, end * self.step) for end in (window[0], window[-1]))
        first, last = (end // self.grain for end in ends)
        return first, last


def scale(problem: Problem) -> Scaled:
    """Leave out the pieces that no demand can use, and divide."""
    kinds = _kinds(problem)
    step = gcd(*(kind.piece.nominal for kind in kinds)) or 1
    windows = tuple(_window(demand, step) if kinds else range(0) for demand in problem.demands)
    squares = problem.measure.squares
    # A divisor of an offset need not divide its square, which is rounded down.
    grain = 1 if squares else gcd(*_error_parts(problem, kinds, windows, step)) or 1
    joint = problem.joint_cost
    return Scaled(
        problem=problem,
        kinds=kinds,
        step=step,
        grain=grain,
        windows=windows,
        nominals=tuple(kind.piece.nominal // step for kind in kinds),
        deviations=tuple(kind.piece.deviation // grain for kind in kinds),
        burdens=tuple((kind.piece.margin + joint) // grain for kind in kinds),
    )


def _kinds(problem: Problem) -> tuple[Kind, ...]:
    longest = max((demand.high for demand in problem.demands), default=0)
    signed = problem.signed
    worn = any(demand.wear for demand in problem.demands)
    groups: dict[tuple[int, int, int, bool], list[int]] = {}
    for index, piece in enumerate(problem.pieces):
        # A piece that subtracts can bring a longer one back into a window.
        if (signed or piece.nominal <= longest) and (worn or not piece.wear):
            key = (piece.nominal, piece.deviation, piece.margin, piece.wear)
            groups.setdefault(key, []).append(index)
    return tuple(
        Kind(piece=problem.pieces[pieces[0]], pieces=tuple(pieces)) for pieces in groups.values()
    )


def _window(demand: Demand, step: int) -> range:
    if demand.most < max(demand.wear, 1):
        return range(0)
    # Rounded inwards, and never 0: no blocks make no stack.
    return range(max(-(-demand.low // step), 1), demand.high // step + 1)


def _error_parts(
    problem: Problem, kinds: Sequence[Kind], windows: Sequence[range], step: int
) -> Iterator[int]:
    yield problem.joint_cost
    for kind in kinds:
        yield from (kind.piece.deviation, kind.piece.margin)
    for demand, window in enumerate(windows):
        if window:
            yield problem.off(demand, window[0] * step)
        # Further lengths of a window are whole steps off, so the grain must divide a step.
        if len(window) > 1 and not problem.measure.corrected:
            yield step
