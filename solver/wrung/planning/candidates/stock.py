"""The shelf as arrays: interchangeable pieces counted once.

A *kind* is a set of interchangeable pieces. To find what can be built, and with how many blocks,
pieces of one nominal length are one kind; for errors, deviation and margin must agree too. Counting
kinds instead of pieces removes symmetry that would make an enumeration far too long.
"""

from collections.abc import Callable, Sequence
from functools import cached_property
from typing import Final, Self, TypeAlias, TypeVar

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from msgspec.structs import asdict

from wrung.keeping import kept
from wrung.metrology.error_measure import QUANTA_A_STEP
from wrung.planning.problem import Piece, Problem

Ints: TypeAlias = npt.NDArray[np.int64]
Cells: TypeAlias = npt.NDArray[np.signedinteger]
Bools: TypeAlias = npt.NDArray[np.bool_]
Floats: TypeAlias = npt.NDArray[np.float64]

_Rows = TypeVar("_Rows", bound="Rows")

# Sums of a few of these still fit into 64 bits.
NEVER: Final = 1 << 60
"""A cost no stack can have."""


class Stock(Struct, frozen=True, kw_only=True, dict=True):
    """The gauge pieces by kind, then wear pieces, then steps, then bodies; rows of equal length.

    A step stands in a stack together with its body: a kind without pieces, length or error, of
    which there is one. So steps share a capacity as any pieces of one kind do.

    Attributes:
        nominals: length of a piece, quanta.
        deviations: certified deviation, quanta; 0 for kinds by nominal length alone.
        burdens: margin plus one joint allowance, quanta; 0 for kinds by nominal length alone.
        capacities: number of pieces of the kind.
        pieces: their indexes in the problem.
        gauges: how many of the kinds are gauge pieces; they come first.
        steps: the first kind that is a step, if there are any; each is of one piece.
        bodies: the first kind that is a body, if there are any.
        body_of: by step, the kind of its body.
        squares: whether the offset of a stack counts squared, see `ErrorMeasure.squares`; burdens
            are then variances.
    """

    nominals: Ints
    deviations: Ints
    burdens: Ints
    capacities: Ints
    pieces: tuple[tuple[int, ...], ...]
    gauges: int
    steps: int
    bodies: int
    body_of: tuple[int, ...] = ()
    squares: bool = False

    def errors(self, off: Ints, burdens: Ints) -> Ints:
        """The errors of stacks with these offsets, quanta, and these sums of burdens."""
        return burdens + (off * off // QUANTA_A_STEP**2 if self.squares else np.abs(off))

    def with_body(self, kind: int) -> tuple[int, ...]:
        """The kind, and of a step its body."""
        return (
            (kind, self.body_of[kind - self.steps]) if self.steps <= kind < self.bodies else (kind,)
        )

    @cached_property
    def most_off(self) -> int:
        """What all pieces together are off at most, quanta."""
        return int((np.abs(self.deviations) * self.capacities).sum())

    @cached_property
    def most_burdens(self) -> int:
        """What the burdens of all pieces come to."""
        return int((np.abs(self.burdens) * self.capacities).sum())

    @cached_property
    def deviates(self) -> bool:
        """Whether a gauge kind has a deviation."""
        return bool(self.deviations[: self.gauges].any())

    @cached_property
    def usual_deviation(self) -> float:
        """The mean size of a deviation of the gauge kinds, quanta."""
        deviations = np.abs(self.deviations[: self.gauges])
        return float(deviations.mean()) if len(deviations) else 0.0


def by_nominal(problem: Problem) -> Stock:
    """The stock where only the nominal length counts."""
    return _stock(problem, lambda piece: (piece.nominal, 0, 0))


def by_error(problem: Problem, marks: Sequence[int] = ()) -> Stock:
    """The stock where deviation and margin count too, and a mark of each piece where given."""
    joint = problem.joint_cost

    def key(piece: Piece) -> tuple[int, int, int]:
        return (piece.nominal, piece.deviation, piece.margin + joint)

    if marks:
        return _stock(problem, key, marks)
    name = ("stock by error", joint, problem.measure.squares)
    return kept(problem.pieces, name, lambda: _stock(problem, key))


def _stock(
    problem: Problem, key: Callable[[Piece], tuple[int, int, int]], marks: Sequence[int] = ()
) -> Stock:
    """Kinds by what the key says of their pieces: length, deviation and burden."""
    kinds: dict[tuple[int, int, int, int, int], list[int]] = {}
    for index, piece in enumerate(problem.pieces):
        # The order of kinds that `Stock` promises.
        place = 2 if piece.step else int(piece.wear)
        # What a step may stand for depends on its body, so each is told apart.
        mark = index if piece.step else marks[index] if marks else 0
        kinds.setdefault((place, *key(piece), mark), []).append(index)
    ordered = sorted(kinds)
    gauges, steps = (sum(1 for k in ordered if k[0] < place) for place in (1, 2))
    of_steps = [problem.pieces[kinds[k][0]].body for k in ordered[steps:]]
    numbers = {body: len(ordered) + n for n, body in enumerate(dict.fromkeys(of_steps))}
    table = np.array([*(k[1:4] for k in ordered), *[(0, 0, 0)] * len(numbers)], dtype=np.int64)
    pieces = (*(tuple(kinds[k]) for k in ordered), *[()] * len(numbers))
    return Stock(
        nominals=table.reshape(-1, 3)[:, 0],
        deviations=table.reshape(-1, 3)[:, 1],
        burdens=table.reshape(-1, 3)[:, 2],
        capacities=np.array([max(len(own), 1) for own in pieces], dtype=np.int64),
        pieces=pieces,
        gauges=gauges,
        steps=steps,
        bodies=len(ordered),
        body_of=tuple(numbers[body] for body in of_steps),
        squares=problem.measure.squares,
    )


class Rows(Struct, frozen=True, kw_only=True):
    """Columns of arrays, of which each row belongs to a demand.

    Attributes:
        demands: index of the demand.
    """

    demands: Ints

    def __len__(self) -> int:
        return len(self.demands)

    def where(self, chosen: Bools | Ints) -> Self:
        """The chosen rows."""
        return type(self)(**{name: many[chosen] for name, many in asdict(self).items()})


def join_rows(parts: Sequence[_Rows]) -> _Rows:
    """All rows of all parts, in order; where columns are matrices, the narrower filled with -1."""
    parts = [part for part in parts if len(part)] or parts[:1]
    if len(parts) == 1:
        return parts[0]
    columns = zip(*(asdict(part).items() for part in parts), strict=True)
    return type(parts[0])(**{own[0][0]: _joined([many for _, many in own]) for own in columns})


def _joined(parts: Sequence[Ints]) -> Ints:
    if parts[0].ndim > 1:
        width = max(part.shape[1] for part in parts)
        beyond = [((0, 0), (0, width - part.shape[1])) for part in parts]
        parts = [np.pad(*each, constant_values=-1) for each in zip(parts, beyond, strict=True)]
    return np.concatenate(parts)


def total_over_kinds(kinds: Ints, values: Ints) -> Ints:
    """Sum of ``values`` over the kinds of each row; -1 adds nothing."""
    # An index of -1 finds the last element, the 0 that is put there for it.
    sums: Ints = np.append(values, 0)[kinds].sum(axis=1)
    return sums


def ranks(groups: Ints, *keys: Ints) -> Ints:
    """The place of each row in its group: as they come, or by keys, the last of them first."""
    order = np.lexsort((*keys, groups))
    own = groups[order]
    found = np.empty_like(order)
    found[order] = np.arange(len(order)) - np.searchsorted(own, own)
    return found
