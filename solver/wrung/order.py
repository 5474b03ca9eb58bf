"""What is asked for: blocks, targets and options, and what is wrong with them."""

from collections.abc import Collection, Iterable, Sequence
from typing import Final

from msgspec import Struct

from wrung.answers import Objective, Restriction
from wrung.blocks import DEFAULT_JOINT_ALLOWANCE, Block, margin, repeated_ids
from wrung.errors import Fault, InputError, not_negative, positive
from wrung.keeping import kept
from wrung.metrology.error_measure import WORST_CASE, ErrorMeasure, RequiredRatio
from wrung.metrology.measuring import measure_faults, ratio_faults
from wrung.names import or_nearest
from wrung.preferences import Preference, preference_faults
from wrung.targets import Requirement, Target
from wrung.targets.angle_cases import case_faults
from wrung.targets.placing import Placed, place, placed_angles
from wrung.targets.turns import turn_faults

_MOST_NEAREST: Final = 10
"""Finding the nearest of a thousand names takes a while, and more than a few help nobody."""


class Order(Struct, frozen=True, kw_only=True):
    """The blocks on the shelf, the targets, and the options of `wrung.solve`, which explains them.

    It is checked where the problem is made of it, once for all that follows.
    """

    blocks: Sequence[Block]
    targets: Sequence[Target] = ()
    objective: Objective = "fewest_blocks"
    joint_allowance: int = DEFAULT_JOINT_ALLOWANCE
    exclude: Collection[str] = ()
    only: Collection[str] | None = None
    overdue: Collection[str] = ()
    error_measure: ErrorMeasure = WORST_CASE
    required_ratios: Sequence[RequiredRatio] = ()
    preferences: Sequence[Preference] = ()

    def faults(self) -> list[Fault]:
        """What is wrong with it, each with a pointer; empty if it can be searched for."""
        placed, unplaced = place(self.targets)
        faults = [
            *kept(self.blocks, "faults", lambda: tuple(_block_faults(self.blocks))),
            *unplaced,
            *_requirement_faults(placed),
            *(fault for each in placed_angles(self.targets) for fault in _use_faults(each)),
            *turn_faults([*placed, *placed_angles(self.targets)]),
            *case_faults(self.targets),
            *_naming_faults("/exclude", self.exclude, self.blocks),
            *_naming_faults("/only", self.only or (), self.blocks),
            *_naming_faults("/overdue", self.overdue, self.blocks),
            *preference_faults(self.preferences, self._sets()),
            *ratio_faults(self.required_ratios, {each.requirement.name for each in placed}),
            *not_negative(self, "joint_allowance"),
        ]
        widest = max((_farthest(each.requirement) for each in placed), default=0)
        # A measure is worked out from the blocks, so these must be checked first.
        return faults or [
            *measure_faults(self.blocks, self.error_measure, self.joint_allowance, widest)
        ]

    def _sets(self) -> frozenset[str]:
        """Those that a preference may name; nobody asks where there is none."""
        named = self.blocks if self.preferences else ()
        return frozenset(block.set for block in named if block.set is not None)

    def forbidden(self) -> dict[str, frozenset[Restriction]]:
        """By the id of each block that may not be used, all the reasons why."""
        if not (self.overdue or self.exclude) and self.only is None:
            return {}
        listed = {block.id for block in self.blocks}
        forbidden: dict[Restriction, set[str]] = {
            "overdue": set(self.overdue),
            "exclude": set(self.exclude),
            "only": set() if self.only is None else listed.difference(self.only),
        }
        every = set[str]().union(*forbidden.values())
        return {
            block.id: frozenset(by for by, names in forbidden.items() if block.id in names)
            for block in self.blocks
            if block.id in every
        }


def _farthest(requirement: Requirement) -> int:
    return max(abs(requirement.tolerance.lower), abs(requirement.tolerance.upper))


def _block_faults(blocks: Sequence[Block]) -> Iterable[Fault]:
    yield from repeated_ids(blocks)
    steps = set[tuple[str | None, int]]()
    for index, block in enumerate(blocks):
        # Nearly all blocks are sound, and pointers take longer to write than all else here.
        if block.nominal <= 0:
            yield Fault(pointer=f"/blocks/{index}/nominal", detail="must be greater than zero")
        if block.body is not None:
            yield from _step_faults(block, f"/blocks/{index}", steps)
        margins = (block.expanded_uncertainty or 0, block.limit_deviation or 0)
        if margins[0] < 0 or margins[1] < 0 or block.uses < 0:
            at = f"/blocks/{index}"
            yield from not_negative(block, "expanded_uncertainty", "limit_deviation", "uses", at=at)
        try:
            margin(block)
        except InputError as error:
            yield from error.under(f"/blocks/{index}")


def _step_faults(block: Block, at: str, steps: set[tuple[str | None, int]]) -> Iterable[Fault]:
    if block.role == "wear":
        yield Fault(pointer=f"{at}/body", detail="a wear block is no step of a step block")
    if (block.body, block.nominal) in steps:
        yield Fault(pointer=f"{at}/nominal", detail="its step block has a step of that length")
    steps.add((block.body, block.nominal))


def _requirement_faults(placed: Sequence[Placed]) -> Iterable[Fault]:
    for each in placed:
        at, requirement = each.pointer, each.requirement
        yield from positive(requirement, "length", at=at)
        if requirement.tolerance.lower > requirement.tolerance.upper:
            yield Fault(pointer=f"{at}/tolerance", detail="lower is greater than upper")
        yield from _use_faults(each)


def _use_faults(each: Placed) -> Iterable[Fault]:
    at, requirement = each.pointer, each.requirement
    if requirement.max_blocks is not None and requirement.max_blocks < 1:
        yield Fault(pointer=f"{at}/max_blocks", detail="must be at least 1")
    if requirement.priority is not None and requirement.priority < 1:
        yield Fault(pointer=f"{at}/priority", detail="must be at least 1")
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
    # Nobody asks for them where none is named.
    known = {block.id for block in blocks} if ids else ()
    unknown = [(index, name) for index, name in enumerate(ids) if name not in known]
    for count, (index, name) in enumerate(unknown):
        nearest = or_nearest(name, known) if count < _MOST_NEAREST else ""
        yield Fault(pointer=f"{at}/{index}", detail=f"no block has the id {name!r}{nearest}")
