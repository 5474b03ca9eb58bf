"""The problem in small whole numbers: alike pieces counted, lengths divided by their common step.

Small coefficients propagate better, and counting alike pieces removes their symmetry.
"""

from collections.abc import Collection, Mapping, Sequence
from functools import cached_property
from math import gcd

from wrung.planning.assignment import assigned
from wrung.planning.candidates.stock import Stock, by_error
from wrung.planning.finding import Plan
from wrung.planning.problem import Demand, Problem


class Scaled:
    """A problem in steps (lengths) and grains (errors).

    Pieces of one kind have one mark; where ``allowed`` is given, a stack has only those of its
    demand.

    Attributes:
        problem: what was scaled.
        windows: for each demand the lengths that serve it, steps; empty where none can.
        grain: greatest common divisor of everything that enters an error, quanta; 1 where offsets
            count squared, as a divisor of an offset need not divide its square rounded down.
        usable: for each demand the kinds that may stand in its stack.
        pieces: of each kind their indexes.
        nominals: per kind, steps.
        deviations: per kind, grains.
        burdens: per kind its margin and one joint allowance, grains.
        joint: the joint allowance, grains.
        stride: how much further off a stack is with each further length of a window, grains.
    """

    def __init__(
        self,
        problem: Problem,
        marks: Sequence[int] = (),
        allowed: Sequence[Collection[int]] | None = None,
    ) -> None:
        self.problem = problem
        stock = by_error(problem, marks)
        self.usable = [_usable(stock, demand, signed=problem.signed) for demand in problem.demands]
        if allowed is not None:
            # Pieces of one kind are all allowed, or none is.
            self.usable = [
                tuple(kind for kind in kinds if stock.pieces[kind][0] in own)
                for kinds, own in zip(self.usable, allowed, strict=True)
            ]
        used = sorted({kind for kinds in self.usable for kind in kinds})
        # Which steps share a body is a rule of the model, so bodies are no kinds of it.
        nominals: list[int] = stock.nominals[: stock.bodies].tolist()
        deviations: list[int] = stock.deviations[: stock.bodies].tolist()
        burdens: list[int] = stock.burdens[: stock.bodies].tolist()
        self._step = gcd(*(nominals[kind] for kind in used)) or 1
        self.windows = tuple(
            _window(demand, self._step) if used else range(0) for demand in problem.demands
        )
        parts = (part for kind in used for part in (deviations[kind], burdens[kind]))
        # Further lengths of a window are whole steps off, so the grain must divide a step.
        wide = not problem.measure.corrected and any(len(window) > 1 for window in self.windows)
        offs = (self._step * wide, *(self._off(demand, 0) for demand in self.open))
        own = gcd(problem.joint_cost, *parts, *offs)
        self.grain = 1 if problem.measure.squares else own or 1
        self.pieces = stock.pieces[: stock.bodies]
        self.nominals = [nominal // self._step for nominal in nominals]
        self.deviations = [deviation // self.grain for deviation in deviations]
        self.burdens = [burden // self.grain for burden in burdens]
        self.joint = problem.joint_cost // self.grain
        self.stride = 0 if problem.measure.corrected else self._step // self.grain

    @cached_property
    def open(self) -> tuple[int, ...]:
        """The demands with a window."""
        return tuple(k for k, window in enumerate(self.windows) if window)

    @cached_property
    def farthest(self) -> int:
        """No stack is off more, grains."""
        own = sum(len(p) * abs(off) for p, off in zip(self.pieces, self.deviations, strict=True))
        ends = (self._off(k, end) for k in self.open for end in (0, -1))
        return own + max((abs(off) // self.grain for off in ends), default=0)

    @cached_property
    def worst(self) -> int:
        """No stack has a larger error, grains."""
        own = sum(len(p) * burden for p, burden in zip(self.pieces, self.burdens, strict=True))
        return self.problem.measure.error(self.farthest, own)

    def offset(self, demand: int) -> int:
        """How far the first length of the window is from the target, grains."""
        return self._off(demand, 0) // self.grain

    @cached_property
    def kind_of(self) -> dict[int, int]:
        """The kind of each piece."""
        return {piece: kind for kind, own in enumerate(self.pieces) for piece in own}

    @cached_property
    def same_blocks(self) -> tuple[tuple[int, ...], ...]:
        """The kinds grouped by body: a block as it adds and as it subtracts, steps of one block."""
        groups: dict[tuple[tuple[str, bool], ...], list[int]] = {}
        for kind, pieces in enumerate(self.pieces):
            bodies = tuple(self.problem.pieces[piece].body for piece in pieces)
            groups.setdefault(bodies, []).append(kind)
        return tuple(map(tuple, groups.values()))

    def plan(self, counts: Sequence[Mapping[int, int] | None]) -> Plan:
        """The pieces of stacks with so many of each kind; None is no stack."""
        return assigned(self.problem, counts, self.pieces, self.same_blocks)

    def _off(self, demand: int, end: int) -> int:
        return self.problem.off(demand, self.windows[demand][end] * self._step)


def _usable(stock: Stock, demand: Demand, *, signed: bool) -> tuple[int, ...]:
    # A piece that subtracts can bring a longer one back into a window.
    longest = stock.nominals.max(initial=0) if signed else demand.high
    kinds = (
        *range(stock.steps if demand.wear else stock.gauges),
        *(range(stock.steps, stock.bodies) if demand.step else ()),
    )
    return tuple(kind for kind in kinds if stock.nominals[kind] <= longest)


def _window(demand: Demand, step: int) -> range:
    # No error is negative.
    if demand.most < max(demand.wear, 1) or (demand.most_error or 0) < 0:
        return range(0)
    # Rounded inwards, and never 0: no blocks make no stack.
    return range(max(-(-demand.low // step), 1), demand.high // step + 1)
