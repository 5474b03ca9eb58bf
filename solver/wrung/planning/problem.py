"""The request as whole numbers: what every engine and every explanation works on."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import UTC, datetime
from itertools import chain, product
from math import prod
from typing import Final, TypeAlias

from msgspec import Struct

from wrung.answers import Objective, Restriction
from wrung.blocks import Block, margin
from wrung.errors import Fault, InputError
from wrung.metrology.error_measure import WORST_CASE, ErrorMeasure
from wrung.metrology.measuring import error_cost, joint_cost, measure_faults
from wrung.metrology.required_ratio import RequiredRatio
from wrung.metrology.requiring import most_errors, ratio_faults
from wrung.names import or_nearest
from wrung.stack_names import StackName
from wrung.targets import Requirement, Target
from wrung.targets.angle_cases import case_faults
from wrung.targets.placing import Placed, place, placed_angles, placed_requirements
from wrung.targets.requirement import WEAR_COUNT
from wrung.targets.turns import turn_faults

_EVER: Final = datetime.min.replace(tzinfo=UTC)
_FOR_EVER: Final = datetime.max.replace(tzinfo=UTC)
_MOST_CROWDS: Final = 2_000
"""Two sequences of eleven points have 121, three 1331; each costs a constraint for every kind."""


_MOST_NEAREST: Final = 10
StepsInTurn: TypeAlias = tuple[tuple[int, ...], ...]
"""Steps one after another, each with the indexes of its demands."""


class Piece(Struct, frozen=True, kw_only=True):
    """A usable block: its nominal length in quanta, and its contribution to an error.

    By the worst-case error that is its deviation, 0 where uncertified, and its margin, in quanta;
    by another measure see `wrung.metrology.measuring`. An angle block that can be turned over is
    two pieces, of which the one that subtracts has a negative nominal; where one is used, neither
    can be used again.
    """

    block: Block
    nominal: int
    deviation: int
    margin: int
    wear: bool


class LeftOut(Struct, frozen=True, kw_only=True):
    """A piece that may not be used, and all the reasons why."""

    piece: Piece
    by: frozenset[Restriction]


class Demand(Struct, frozen=True, kw_only=True):
    """A stack to build: its nominal length must lie in ``low..high``; ``wear`` wear blocks.

    Its error by the measure of the problem may be at most ``most_error``; None means no limit.
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

    def allows(self, error: int) -> bool:
        """Whether a stack may have that error."""
        return self.most_error is None or error <= self.most_error


class Problem(Struct, frozen=True, kw_only=True):
    """Pieces, demands, and which demands are needed at one time.

    Attributes:
        crowds: the largest sets of demands that are needed at one time, as ascending indexes into
            ``demands``. Two demands may share a piece unless some crowd holds both.
        joint_allowance: the contribution of one joint to an error, in the unit of the measure.
        measure: what errors are; all that depends on it is in the pieces and the two members here.
        left_out: what no plan may use, for explanations.
    """

    pieces: tuple[Piece, ...]
    demands: tuple[Demand, ...]
    crowds: tuple[tuple[int, ...], ...]
    objective: Objective
    joint_allowance: int
    measure: ErrorMeasure = WORST_CASE
    left_out: tuple[LeftOut, ...] = ()

    @property
    def signed(self) -> bool:
        """Whether some piece subtracts: then a longer piece may stand in a shorter stack."""
        return any(piece.nominal < 0 for piece in self.pieces)

    @property
    def limits_errors(self) -> bool:
        """Whether some demand limits its error."""
        return any(demand.most_error is not None for demand in self.demands)

    @property
    def sequences(self) -> tuple[StepsInTurn, ...]:
        """The steps of each sequence in order, and the demands of each step."""
        found: dict[str | None, dict[tuple[int, ...], list[int]]] = {}
        for index, demand in enumerate(self.demands):
            turn = demand.requirement.turn
            if turn is not None:
                found.setdefault(turn.of, {}).setdefault(turn.step, []).append(index)
        return tuple(
            tuple(tuple(steps[step]) for step in sorted(steps)) for steps in found.values()
        )

    def off(self, demand: int, nominal: int) -> int:
        """What a stack of that nominal length is off, as far as it counts as an error, quanta."""
        return 0 if self.measure.corrected else nominal - self.demands[demand].target


def worst_case_error(problem: Problem, demand: int, stack: Collection[int]) -> int:
    """Error of the stack of the pieces with those indexes: worst case, quanta, or as measured."""
    pieces = [problem.pieces[index] for index in stack]
    off = problem.off(demand, sum(piece.nominal for piece in pieces))
    off += sum(piece.deviation for piece in pieces)
    margins = sum(piece.margin for piece in pieces)
    return problem.measure.error(off, margins + (len(pieces) - 1) * problem.joint_allowance)


def build_problem(  # noqa: PLR0913 -- the options of `wrung.solve`
    blocks: Sequence[Block],
    targets: Sequence[Target],
    *,
    objective: Objective,
    joint_allowance: int,
    exclude: Collection[str] = (),
    only: Collection[str] | None = None,
    overdue: Collection[str] = (),
    measure: ErrorMeasure = WORST_CASE,
    required_ratios: Sequence[RequiredRatio] = (),
) -> Problem:
    """Check the input and normalise it.

    Raises:
        InputError: with every fault found, pointing into ``/blocks``, ``/targets``, ``/exclude``,
            ``/only``, ``/overdue``, ``/joint_allowance``, ``/error_measure`` and
            ``/required_ratios``.
    """
    faults = input_faults(
        blocks,
        targets,
        joint_allowance=joint_allowance,
        exclude=exclude,
        only=only,
        overdue=overdue,
        measure=measure,
        required_ratios=required_ratios,
    )
    if faults:
        raise InputError(faults)
    placed = placed_requirements(targets)
    forbidden = restrictions_on(blocks, exclude, only, overdue)
    usable = [block for block in blocks if block.id not in forbidden]
    limits = most_errors(required_ratios, usable, measure)
    demands = tuple(demand_of(each.requirement, len(usable), limits) for each in placed)
    return Problem(
        pieces=tuple(_piece(block, measure) for block in usable),
        demands=demands,
        crowds=crowds_of(demands),
        objective=objective,
        joint_allowance=joint_cost(measure, joint_allowance),
        measure=measure,
        left_out=tuple(
            LeftOut(piece=_piece(block, measure), by=forbidden[block.id])
            for block in blocks
            if block.id in forbidden
        ),
    )


def restrictions_on(
    blocks: Iterable[Block],
    exclude: Collection[str],
    only: Collection[str] | None,
    overdue: Collection[str],
) -> dict[str, frozenset[Restriction]]:
    """By the id of each block that may not be used, all the reasons why."""
    excluded, late = set(exclude), set(overdue)
    listed = None if only is None else set(only)
    found: dict[str, frozenset[Restriction]] = {}
    for name in (block.id for block in blocks):
        by: list[tuple[Restriction, bool]] = [
            ("overdue", name in late),
            ("exclude", name in excluded),
            ("only", listed is not None and name not in listed),
        ]
        forbidding: frozenset[Restriction] = frozenset(each for each, holds in by if holds)
        if forbidding:
            found[name] = forbidding
    return found


def input_faults(  # noqa: PLR0913 -- the same
    blocks: Sequence[Block],
    targets: Sequence[Target],
    *,
    joint_allowance: int,
    exclude: Collection[str] = (),
    only: Collection[str] | None = None,
    overdue: Collection[str] = (),
    measure: ErrorMeasure = WORST_CASE,
    required_ratios: Sequence[RequiredRatio] = (),
) -> list[Fault]:
    """What is wrong with the input, as `build_problem` would refuse it."""
    placed, unplaced = place(targets)
    faults = [
        *_block_faults(blocks),
        *unplaced,
        *_requirement_faults(placed),
        *(fault for each in placed_angles(targets) for fault in _use_faults(each)),
        *turn_faults([*placed, *placed_angles(targets)]),
        *case_faults(targets),
        *_naming_faults("/exclude", exclude, blocks),
        *_naming_faults("/only", only or (), blocks),
        *_naming_faults("/overdue", overdue, blocks),
        *ratio_faults(required_ratios, {each.requirement.name for each in placed}),
    ]
    if joint_allowance < 0:
        faults.append(Fault(pointer="/joint_allowance", detail="must not be negative"))
    widest = max((_farthest(each.requirement) for each in placed), default=0)
    # A measure is worked out from the blocks, so these must be checked first.
    return faults or [*measure_faults(blocks, measure, joint_allowance, widest)]


def _farthest(requirement: Requirement) -> int:
    return max(abs(requirement.tolerance.lower), abs(requirement.tolerance.upper))


def _piece(block: Block, measure: ErrorMeasure) -> Piece:
    cost = error_cost(block, measure)
    return Piece(
        block=block,
        nominal=block.nominal,
        deviation=cost.shift,
        margin=cost.spread,
        wear=block.role == "wear",
    )


def demand_of(requirement: Requirement, available: int, limits: Mapping[StackName, int]) -> Demand:
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
    )


def crowds_of(demands: Sequence[Demand]) -> tuple[tuple[int, ...], ...]:
    """Maximal cliques: the demands alive at some start, with one step of each sequence."""
    # Demands that overlap are all alive when the last of them starts, so checking starts is enough.
    alive = {
        tuple(k for k, other in enumerate(demands) if other.start <= demand.start < other.end)
        for demand in demands
    }
    largest = [a for a in alive if not any(set(a) < set(b) for b in alive)]
    return tuple(sorted({crowd for a in largest for crowd in _taking_turns(demands, a)}))


def _taking_turns(demands: Sequence[Demand], alive: tuple[int, ...]) -> Iterable[tuple[int, ...]]:
    """Every choice of these demands that can stand at the same time."""
    always: list[int] = []
    turns: dict[str | None, dict[tuple[int, ...], list[int]]] = {}
    for k in alive:
        turn = demands[k].requirement.turn
        step = always if turn is None else turns.setdefault(turn.of, {}).setdefault(turn.step, [])
        step.append(k)
    # Counted before any is made, as their number multiplies with each sequence.
    if prod(map(len, turns.values())) > _MOST_CROWDS:
        detail = "too many check points are needed at one time; give them times of their own"
        raise InputError([Fault(pointer="/targets", detail=detail)])
    steps = product(*(steps.values() for steps in turns.values()))
    return (tuple(sorted(chain(always, *each))) for each in steps)


def _block_faults(blocks: Sequence[Block]) -> Iterable[Fault]:
    seen: set[str] = set()
    for index, block in enumerate(blocks):
        at = f"/blocks/{index}"
        if block.id in seen:
            yield Fault(pointer=f"{at}/id", detail=f"the id {block.id!r} is used twice")
        seen.add(block.id)
        if block.nominal <= 0:
            yield Fault(pointer=f"{at}/nominal", detail="must be greater than zero")
        for member in ("expanded_uncertainty", "limit_deviation"):
            if (getattr(block, member) or 0) < 0:
                yield Fault(pointer=f"{at}/{member}", detail="must not be negative")
        try:
            margin(block)
        except InputError as error:
            yield from (Fault(pointer=at + f.pointer, detail=f.detail) for f in error.faults)


def _requirement_faults(placed: Sequence[Placed]) -> Iterable[Fault]:
    for each in placed:
        at, requirement = each.pointer, each.requirement
        if requirement.length <= 0:
            yield Fault(pointer=f"{at}/length", detail="must be greater than zero")
        if requirement.tolerance.lower > requirement.tolerance.upper:
            yield Fault(pointer=f"{at}/tolerance", detail="lower is greater than upper")
        yield from _use_faults(each)


def _use_faults(each: Placed) -> Iterable[Fault]:
    at, requirement = each.pointer, each.requirement
    if requirement.max_blocks is not None and requirement.max_blocks < 1:
        yield Fault(pointer=f"{at}/max_blocks", detail="must be at least 1")
    yield from _time_faults(requirement, at)


def _time_faults(requirement: Requirement, at: str) -> Iterable[Fault]:
    times = (requirement.needed_from, requirement.needed_until)
    for member, time in zip(("needed_from", "needed_until"), times, strict=True):
        # Times with and without an offset cannot be compared below.
        if time is not None and time.tzinfo is None:
            yield Fault(pointer=f"{at}/{member}", detail="the time needs its offset from UTC")
            return
    if times[0] is not None and times[1] is not None and times[0] >= times[1]:
        yield Fault(pointer=f"{at}/needed_until", detail="must be later than needed_from")


def _naming_faults(at: str, ids: Collection[str], blocks: Sequence[Block]) -> Iterable[Fault]:
    known = {block.id for block in blocks}
    unknown = [(index, name) for index, name in enumerate(ids) if name not in known]
    for count, (index, name) in enumerate(unknown):
        # Finding the nearest of a thousand names takes a while, and more than a few help nobody.
        nearest = or_nearest(name, known) if count < _MOST_NEAREST else ""
        yield Fault(pointer=f"{at}/{index}", detail=f"no block has the id {name!r}{nearest}")
