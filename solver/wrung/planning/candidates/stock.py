"""The shelf and the demands as arrays: interchangeable pieces counted once, lengths in steps.

A *kind* is a set of interchangeable pieces. To find what can be built, and with how many blocks,
pieces of one nominal length are one kind; for errors, deviation and margin must agree too. Counting
kinds instead of pieces removes symmetry that would make an enumeration far too long.
"""

from collections.abc import Callable, Iterator
from itertools import combinations_with_replacement, islice
from math import gcd
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.metrology.error_measure import QUANTA_A_STEP
from wrung.planning.problem import Demand, Piece, Problem

Ints: TypeAlias = npt.NDArray[np.int64]
Cells: TypeAlias = npt.NDArray[np.signedinteger]
Bools: TypeAlias = npt.NDArray[np.bool_]

# Sums of a few of these still fit into 64 bits.
NEVER: Final = 1 << 60
"""A cost no stack can have."""


class Stock(Struct, frozen=True, kw_only=True):
    """The gauge pieces by kind, then the wear pieces by kind; rows of equal length.

    Attributes:
        nominals: length of a piece, quanta.
        deviations: certified deviation, quanta; 0 for kinds by nominal length alone.
        burdens: margin plus one joint allowance, quanta; 0 for kinds by nominal length alone.
        capacities: number of pieces of the kind.
        pieces: their indexes in the problem.
        gauges: how many of the kinds are gauge pieces; they come first.
        step: greatest common divisor of the gauge nominals, quanta.
        squares: whether the offset of a stack counts squared, see `ErrorMeasure.squares`; burdens
            are then variances.
    """

    nominals: Ints
    deviations: Ints
    burdens: Ints
    capacities: Ints
    pieces: tuple[tuple[int, ...], ...]
    gauges: int
    step: int
    squares: bool = False

    def errors(self, off: Ints, burdens: Ints) -> Ints:
        """The errors of stacks with these offsets, quanta, and these sums of burdens."""
        return burdens + (off * off // QUANTA_A_STEP**2 if self.squares else np.abs(off))


class Starts(Struct, frozen=True, kw_only=True):
    """Every way to begin a stack: its first pieces and the sum that gauge pieces must then make up.

    The first pieces are its wear pieces, and where they are spelt out (see `workbench.spelt_out`)
    its finest gauge pieces as well.

    Attributes:
        demands: index of the demand.
        steps: what the gauge pieces must add up to, in steps of the stock.
        counts: number of pieces already in the stack.
        burdens: their burdens less the one joint too many, quanta.
        offsets: nominal sum of the whole plus their deviations less the target, quanta.
        begun: kinds of these pieces, -1 where a column has none.
    """

    demands: Ints
    steps: Ints
    counts: Ints
    burdens: Ints
    offsets: Ints
    begun: Ints

    def where(self, rows: Ints) -> "Starts":
        """Some of the starts."""
        return Starts(
            demands=self.demands[rows],
            steps=self.steps[rows],
            counts=self.counts[rows],
            burdens=self.burdens[rows],
            offsets=self.offsets[rows],
            begun=self.begun[rows],
        )


def by_nominal(problem: Problem) -> Stock:
    """The stock where only the nominal length counts."""
    return _stock(problem, lambda piece: (piece.wear, piece.nominal, 0, 0))


def by_error(problem: Problem) -> Stock:
    """The stock where deviation and margin count too."""
    joint = problem.joint_cost
    return _stock(
        problem,
        lambda piece: (piece.wear, piece.nominal, piece.deviation, piece.margin + joint),
    )


def _stock(problem: Problem, key: Callable[[Piece], tuple[bool, int, int, int]]) -> Stock:
    kinds: dict[tuple[bool, int, int, int], list[int]] = {}
    for index, piece in enumerate(problem.pieces):
        kinds.setdefault(key(piece), []).append(index)
    # False sorts before True: gauge kinds come first, as `Stock` promises.
    ordered = sorted(kinds)
    table = np.array([k[1:] for k in ordered], dtype=np.int64).reshape(len(ordered), 3)
    gauges = sum(1 for k in ordered if not k[0])
    return Stock(
        nominals=table[:, 0],
        deviations=table[:, 1],
        burdens=table[:, 2],
        capacities=np.array([len(kinds[k]) for k in ordered], dtype=np.int64),
        pieces=tuple(tuple(kinds[k]) for k in ordered),
        gauges=gauges,
        # Wear pieces are settled in the starts, so only gauge lengths must share the step.
        step=gcd(*(k[1] for k in ordered[:gauges])),
        squares=problem.measure.squares,
    )


def starts_of(problem: Problem, stock: Stock, deadline: Deadline) -> Starts | None:
    """All starts that the stock's gauge pieces could complete; None if there are too many.

    Also None if the time is up before all are known.
    """
    rows: list[tuple[int, ...]] = []
    most, a_look = deadline.tuning.most_starts, deadline.tuning.starts_a_look
    reach = int((stock.nominals * stock.capacities)[: stock.gauges].sum())
    for index, demand in enumerate(problem.demands):
        for wear in _wear_choices(stock, demand.wear):
            before = len(rows)
            # Of a very wide window no more rows are made than it takes to exceed the limit.
            rows.extend(islice(_rows(problem, stock, index, wear, reach), most + 1))
            if len(rows) > most:
                return None
            # Only what takes long looks at the clock: one start for each demand takes no time.
            looks = len(rows) // a_look > before // a_look
            if looks and deadline.passed:
                return None
    table = np.array(rows, dtype=np.int64).reshape(len(rows), 7)
    return Starts(
        demands=table[:, 0],
        steps=table[:, 1],
        counts=table[:, 2],
        burdens=table[:, 3],
        offsets=table[:, 4],
        begun=table[:, 5:7],
    )


def _wear_choices(stock: Stock, count: int) -> Iterator[tuple[int, ...]]:
    kinds = range(stock.gauges, len(stock.nominals))
    for choice in combinations_with_replacement(kinds, count):
        if all(choice.count(kind) <= stock.capacities[kind] for kind in choice):
            yield choice


def _rows(
    problem: Problem, stock: Stock, index: int, wear: tuple[int, ...], reach: int
) -> Iterator[tuple[int, ...]]:
    """One row for each length in the demand's window that some sum of steps reaches."""
    demand: Demand = problem.demands[index]
    worn = sum(int(stock.nominals[kind]) for kind in wear)
    shift = sum(int(stock.deviations[kind]) for kind in wear)
    # Every piece brings a joint, and a stack has one joint fewer than pieces.
    burden = sum(int(stock.burdens[kind]) for kind in wear) - problem.joint_cost
    padded = (*wear, -1, -1)[:2]
    step = max(stock.step, 1)
    # Wear blocks alone may be a stack; without them it has at least one gauge piece.
    least = max(demand.low - worn, 0 if wear else 1)
    last = min(demand.high - worn, reach)
    first = -(-least // step)
    for length in range(first * step, last + 1, step):
        offset = problem.off(index, length + worn) + shift
        yield (index, length // step, len(wear), burden, offset, *padded)
