"""The request as whole numbers: what every engine and every explanation works on."""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import UTC, datetime
from functools import reduce
from itertools import chain, product
from math import prod
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from msgspec.structs import force_setattr

from wrung.answers import Objective, Restriction
from wrung.blocks import Block
from wrung.errors import InputError
from wrung.keeping import Keeping, kept
from wrung.metrology.error_measure import WORST_CASE, ErrorMeasure
from wrung.metrology.measuring import error_cost, joint_cost, most_errors
from wrung.order import Order
from wrung.preferences import Preference
from wrung.stack_names import StackName
from wrung.targets import Requirement
from wrung.targets.placing import place
from wrung.targets.requirement import WEAR_COUNT
from wrung.tuning import Tuning

AtOneTime: TypeAlias = npt.NDArray[np.bool_]

_EVER: Final = datetime.min.replace(tzinfo=UTC)
_FOR_EVER: Final = datetime.max.replace(tzinfo=UTC)


class Piece(Struct, frozen=True, kw_only=True):
    """A usable block: its nominal length in quanta, and its contribution to an error.

    By the worst-case error that is its deviation, 0 where uncertified, and its margin, in quanta;
    by another measure see `wrung.metrology.measuring`. An angle block that can be turned over is
    two pieces, of which the one that subtracts has a negative nominal; each ``step`` of a step
    block is one. Where one piece of a body is used, none of them can be used again.
    """

    block: Block
    nominal: int
    deviation: int
    margin: int
    wear: bool
    step: bool = False

    @property
    def likeness(self) -> tuple[bool, bool, int]:
        """Pieces that are alike in it may stand for one another, as far as lengths go."""
        return (self.wear, self.step, self.nominal)

    @property
    def body(self) -> tuple[str, bool]:
        """What is taken off the shelf with it: its step block, or the block itself."""
        return (self.block.id, False) if self.block.body is None else (self.block.body, True)


class LeftOut(Struct, frozen=True, kw_only=True):
    """A piece that may not be used, and all the reasons why."""

    piece: Piece
    by: frozenset[Restriction]


class Demand(Struct, frozen=True, kw_only=True):
    """A stack to build: its nominal length must lie in ``low..high``; ``wear`` wear blocks.

    One of its pieces may be a ``step`` where that is allowed and an end has no wear block.
    Its error by the measure of the problem may be at most ``most_error``; None means no limit.
    ``priority_class`` is the place of its priority among those of the problem.
    """

    requirement: Requirement
    target: int
    low: int
    high: int
    most: int
    wear: int
    start: datetime
    end: datetime
    most_error: int | None = None
    priority_class: int = 0
    step: bool = True

    def allows(self, error: int) -> bool:
        """Whether a stack may have that error."""
        return self.most_error is None or error <= self.most_error


class Problem(Struct, frozen=True, kw_only=True):
    """Pieces, demands, and which demands are needed at one time.

    Attributes:
        joint_allowance: what one joint adds to a worst-case error, quanta.
        joint_cost: what it adds to an error in the unit of the measure.
        measure: what errors are; all that depends on it is in the pieces and the two members here.
        left_out: what no plan may use, for explanations.
        priorities: of the classes of demands, the most urgent first; None for those without one.
            A part of the problem has the same classes, some of which may be empty.
        preferences: goals after all others, in order.
    """

    pieces: tuple[Piece, ...]
    demands: tuple[Demand, ...]
    objective: Objective
    joint_allowance: int
    joint_cost: int
    measure: ErrorMeasure = WORST_CASE
    left_out: tuple[LeftOut, ...] = ()
    priorities: tuple[int | None, ...] = (None,)
    preferences: tuple[Preference, ...] = ()

    def __post_init__(self) -> None:
        """Let pieces and demands, those of a part of a problem too, keep what is known of them."""
        for name in ("pieces", "demands"):
            if not isinstance(own := getattr(self, name), Keeping):
                force_setattr(self, name, Keeping(own))

    @property
    def cliques(self) -> tuple[tuple[int, ...], ...]:
        """The largest sets of demands that are needed at one time, as ascending indexes.

        Two demands may share a piece unless some clique holds both.
        """
        return kept(self.demands, "cliques", lambda: _cliques(self.demands))

    @property
    def at_one_time(self) -> AtOneTime:
        """Which demands are needed at the same time as which, themselves too."""
        return kept(self.demands, "at one time", lambda: _at_one_time(self.demands))

    @property
    def sizes(self) -> tuple[int, ...]:
        """How many demands there are of each class."""
        found = Counter(demand.priority_class for demand in self.demands)
        return tuple(found[number] for number in range(len(self.priorities)))

    @property
    def signed(self) -> bool:
        """Whether some piece subtracts: then a longer piece may stand in a shorter stack."""
        pieces = self.pieces
        return kept(pieces, "signed", lambda: any(piece.nominal < 0 for piece in pieces))

    @property
    def exclusive(self) -> bool:
        """Whether some body is several pieces, of which only one can be used at a time."""
        pieces = self.pieces
        return kept(pieces, "exclusive", lambda: self.signed or any(p.step for p in pieces))

    def taken_by(self, stack: Collection[int]) -> Collection[int]:
        """The pieces that no other stack can have beside one of these pieces."""
        if not self.exclusive:
            return stack
        bodies = {self.pieces[piece].body for piece in stack}
        return tuple(k for k, piece in enumerate(self.pieces) if piece.body in bodies)

    def by_unit(self, pieces: Iterable[int]) -> tuple[list[int], list[int]]:
        """The inch ones of these pieces, and the others."""
        inch, metric = list[int](), list[int]()
        for piece in pieces:
            (inch if self.pieces[piece].block.unit == "in" else metric).append(piece)
        return inch, metric

    @property
    def limits_errors(self) -> bool:
        """Whether some demand limits its error."""
        return any(demand.most_error is not None for demand in self.demands)

    @property
    def tolerant(self) -> bool:
        """Whether some demand may have one of several lengths."""
        return any(demand.low < demand.high for demand in self.demands)

    @property
    def sequences(self) -> tuple[tuple[tuple[int, ...], ...], ...]:
        """Of each sequence the steps in order, each with the indexes of its demands."""
        turns = _in_turn(self.demands, range(len(self.demands)))
        return tuple(tuple(tuple(steps[step]) for step in sorted(steps)) for steps in turns)

    def off(self, demand: int, nominal: int) -> int:
        """What a stack of that nominal length is off, as far as it counts as an error, quanta."""
        return 0 if self.measure.corrected else nominal - self.demands[demand].target


def error_of(problem: Problem, demand: int, stack: Collection[int]) -> int:
    """Error of the stack of the pieces with those indexes: worst case, quanta, or as measured."""
    pieces = [problem.pieces[index] for index in stack]
    off = problem.off(demand, sum(piece.nominal for piece in pieces))
    off += sum(piece.deviation for piece in pieces)
    margins = sum(piece.margin for piece in pieces)
    return problem.measure.error(off, margins + (len(pieces) - 1) * problem.joint_cost)


def crowded(problem: Problem, tuning: Tuning) -> bool:
    """Whether it may have more cliques than can be gone through; none is made to see that."""
    # Their number multiplies with each sequence: five of eleven points have 161,051.
    most = kept(problem.demands, "most cliques", lambda: _most(problem.demands))
    return most > tuning.most_cliques


def rivals(problem: Problem, demand: int) -> frozenset[int]:
    """The other demands that are needed at the same time as this one."""
    together: list[int] = np.flatnonzero(problem.at_one_time[demand]).tolist()
    return frozenset(together) - {demand}


def build_problem(order: Order) -> Problem:
    """Check what is asked for and normalise it.

    Raises:
        InputError: with every fault found, pointing into ``/blocks``, ``/targets``, ``/exclude``,
            ``/only``, ``/overdue``, ``/joint_allowance``, ``/error_measure``,
            ``/required_ratios`` and ``/preferences``.
    """
    if faults := order.faults():
        raise InputError(faults)
    measure, forbidden = order.error_measure, order.forbidden()
    pieces = kept(
        order.blocks,
        ("pieces", measure, frozenset(forbidden)),
        lambda: Keeping(_piece(b, measure) for b in order.blocks if b.id not in forbidden),
    )
    limits = most_errors(order.required_ratios, [piece.block for piece in pieces], measure)
    placed, _ = place(order.targets)
    priorities = priorities_of([each.requirement for each in placed])
    demands = tuple(demand_of(each.requirement, len(pieces), limits, priorities) for each in placed)
    return Problem(
        pieces=pieces,
        demands=demands,
        objective=order.objective,
        joint_allowance=order.joint_allowance,
        joint_cost=joint_cost(measure, order.joint_allowance),
        measure=measure,
        left_out=tuple(
            LeftOut(piece=_piece(block, measure), by=forbidden[block.id])
            for block in order.blocks
            if block.id in forbidden
        ),
        priorities=priorities,
        preferences=tuple(order.preferences),
    )


def _piece(block: Block, measure: ErrorMeasure) -> Piece:
    cost = error_cost(block, measure)
    return Piece(
        block=block,
        nominal=block.nominal,
        deviation=cost.shift,
        margin=cost.spread,
        wear=block.role == "wear",
        step=block.body is not None,
    )


def priorities_of(requirements: Iterable[Requirement]) -> tuple[int | None, ...]:
    """The classes of priority, the most urgent first: 1, 2 and so on, and last those without."""
    found = {each.priority for each in requirements}
    stated = sorted(priority for priority in found if priority is not None)
    return (*stated, None) if None in found or not found else tuple(stated)


def demand_of(
    requirement: Requirement,
    available: int,
    limits: Mapping[StackName, int],
    priorities: Sequence[int | None],
) -> Demand:
    """The demand for a stack, with so many blocks available and limits of error by name."""
    # No stack has more blocks than there are, whatever limit is asked for.
    most = available if requirement.max_blocks is None else min(requirement.max_blocks, available)
    return Demand(
        requirement=requirement,
        target=requirement.length,
        low=requirement.length + requirement.tolerance.lower,
        high=requirement.length + requirement.tolerance.upper,
        most=most,
        wear=WEAR_COUNT[requirement.wear_blocks],
        start=requirement.needed_from or _EVER,
        end=requirement.needed_until or _FOR_EVER,
        most_error=limits.get(requirement.name),
        priority_class=priorities.index(requirement.priority),
        step=requirement.takes_step and requirement.wear_blocks != "both",
    )


def _at_one_time(demands: Sequence[Demand]) -> AtOneTime:
    """Those whose times overlap, without the other steps of their sequence."""
    starts, ends = _times(demands)
    begun = starts[:, None] < ends
    together: AtOneTime = begun & begun.T
    for steps in _in_turn(demands, range(len(demands))):
        members = list(chain(*steps.values()))
        for own in steps.values():
            together[np.ix_(own, [k for k in members if k not in own])] = False
    return together


def _times(demands: Sequence[Demand]) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """When they start and end, as places in the order of all these times."""
    both = [d.start for d in demands], [d.end for d in demands]
    order = {at: place for place, at in enumerate(sorted({*both[0], *both[1]}))}
    starts, ends = (np.array([order[at] for at in each], dtype=np.int64) for each in both)
    return starts, ends


def _alive(demands: Sequence[Demand]) -> tuple[tuple[int, ...], ...]:
    """The largest sets whose times have a moment in common."""
    # Demands that overlap are all alive when the last of them starts, so checking starts is enough.
    starts, ends = _times(demands)
    alive = (starts <= starts[:, None]) & (starts[:, None] < ends)
    return maximal({tuple(np.flatnonzero(row).tolist()) for row in alive})


def _cliques(demands: Sequence[Demand]) -> tuple[tuple[int, ...], ...]:
    """Maximal cliques: the demands alive at some start, with one step of each sequence."""
    if len(demands) == 1:
        return ((0,),)
    every = (clique for alive in _alive(demands) for clique in _taking_turns(demands, alive))
    return tuple(sorted(set(every)))


def maximal(cliques: Collection[tuple[int, ...]]) -> tuple[tuple[int, ...], ...]:
    """Those of which no other has all members, in order; none is empty, and no two are alike."""
    own, holding = sorted(cliques), dict[int, int]()
    # The cliques of each member as the bits of a number: compared in pairs, a thousand take long.
    for number, clique in enumerate(own):
        for member in clique:
            holding[member] = holding.get(member, 0) | 1 << number
    return tuple(
        clique
        for number, clique in enumerate(own)
        if reduce(int.__and__, map(holding.__getitem__, clique)) == 1 << number
    )


def _most(demands: Sequence[Demand]) -> int:
    """There are no more cliques than this."""
    turned = {k for k, demand in enumerate(demands) if demand.requirement.turn is not None}
    in_turn = (_in_turn(demands, sorted(turned.intersection(a))) for a in _alive(demands))
    return sum(prod(map(len, turns)) for turns in in_turn)


def _taking_turns(demands: Sequence[Demand], alive: tuple[int, ...]) -> Iterable[tuple[int, ...]]:
    """Every choice of these demands that can stand at the same time."""
    always = [k for k in alive if demands[k].requirement.turn is None]
    steps = product(*(steps.values() for steps in _in_turn(demands, alive)))
    return (tuple(sorted(chain(always, *each))) for each in steps)


def _in_turn(
    demands: Sequence[Demand], among: Iterable[int]
) -> Collection[Mapping[tuple[int, ...], Sequence[int]]]:
    """By sequence the steps, and the demands of each."""
    found: dict[str | None, dict[tuple[int, ...], list[int]]] = {}
    for k in among:
        if (turn := demands[k].requirement.turn) is not None:
            found.setdefault(turn.of, {}).setdefault(turn.step, []).append(k)
    return found.values()
