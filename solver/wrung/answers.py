"""Answers: stacks, and why some could not be built. All lengths are quanta of 0.01 nm.

Plans for angle blocks (`CasePlan`) have angles in quanta of 1e-9 seconds instead.
"""

from datetime import datetime
from typing import Literal, TypeAlias

from msgspec import Struct

from wrung.blocks import Role
from wrung.checked_types import CheckedStruct
from wrung.lengths import Unit
from wrung.preferences import PreferenceResult
from wrung.stack_names import Named, StackName
from wrung.stages import StageTime

Objective: TypeAlias = Literal["fewest_blocks", "least_error"]
"""What the best plan is: of the fewest blocks, or of the least errors; the other decides ties."""
Outcome: TypeAlias = Literal["optimal", "feasible", "partial", "infeasible", "unknown"]
"""What was found: see `Answer.outcome`. Only ``unknown`` says nothing, the search ended first."""
ErrorKind: TypeAlias = Literal["worst_case", "expanded_uncertainty"]
ShortageCause: TypeAlias = Literal["wanted_at_once", "restricted", "blocks_missing", "undecided"]
UnmetReason: TypeAlias = Literal["cannot_be_built", "blocks_in_use", "not_decided"]
"""Why a stack is missing: not even alone, not beside the others, or the search ended."""
Restriction: TypeAlias = Literal[
    "overdue", "exclude", "only", "max_blocks", "wear_blocks", "required_ratio"
]
"""What a request forbids: see `Remedy.lifted`."""


class PlacedBlock(Struct, frozen=True, kw_only=True):
    """A block at its place in a stack; the nominal of one that subtracts is negative.

    The ``body`` is the step block of which it is a step.
    """

    id: str
    nominal: int
    role: Role = "gauge"
    unit: Unit = "mm"
    body: str | None = None

    @property
    def taken_as(self) -> tuple[str, bool]:
        """What is taken from the case with it: its step block, or the block itself."""
        return (self.id, False) if self.body is None else (self.body, True)


class Stack(Named, frozen=True, kw_only=True):
    """Blocks wrung together to a wanted length.

    Attributes:
        target: the target's ref.
        role: the part that the stack plays in it; None where it has but one.
        length: the wanted length.
        nominal: sum of the nominal lengths.
        joints: blocks in the stack less one.
        blocks: in wringing order, base first.
        deviation: sum of the certified deviations.
        worst_case_error: |nominal + deviation - length| + all margins + joints * joint allowance.
    """

    length: int
    nominal: int
    joints: int
    blocks: tuple[PlacedBlock, ...]
    deviation: int
    worst_case_error: int


class Nearest(Struct, frozen=True, kw_only=True):
    """A length that can be built, and the blocks that build it."""

    length: int
    blocks: tuple[str, ...]


class Remedy(CheckedStruct, frozen=True, kw_only=True):
    """What of the request stands in the way of a stack, shown by the stack built without it.

    Attributes:
        lifted: the restrictions that this stack does not keep; it keeps all others.
        blocks: ids of its blocks. Those that the request leaves out are among them.
    """

    lifted: tuple[Restriction, ...]
    blocks: tuple[str, ...]


class Unmet(Named, frozen=True, kw_only=True):
    """A stack that could not be had.

    Attributes:
        target: ref of the target that it is for.
        role: the part that it would play in it.
        reason: ``cannot_be_built`` not even with every block free that may be used, or none that
            keeps the ratio required; ``blocks_in_use`` it could be built alone, but not beside
            the other stacks; ``not_decided`` the search ended before.
        remedies: the fewest restrictions of the request that would have to be lifted together,
            every such choice of them that was decided in time, each proven to be needed; empty
            where lifting all of them does not help, or it was not decided. For ``blocks_in_use``,
            beside the other stacks.
        nearest_below: longest buildable length below the wanted one. For ``blocks_in_use``, built
            from the blocks that the stacks of this answer leave free while the target is needed.
        nearest_above: shortest buildable length over the wanted one, likewise.
        rounded_to: of a target whose stacks may be rounded and that states no step, one with which
            each of them can be built by itself, quanta.
        held_by: of angle blocks in use, the targets with blocks that this one would take if it
            had the case to itself. Where targets have different priorities, of lengths too, the
            targets of ``held_by_priority`` with blocks that this one would take.
        held_by_priority: the priority of the stacks that hold the blocks: were all stacks of less
            urgent priorities given up, it could still not be built (proven); with those of this
            one given up too, it could. None for stacks without a priority, or where it was not
            shown; ``held_by`` is empty then.
    """

    reason: UnmetReason
    nearest_below: Nearest | None = None
    nearest_above: Nearest | None = None
    held_by: tuple[str, ...] = ()
    held_by_priority: int | None = None
    remedies: tuple[Remedy, ...] = ()
    rounded_to: int | None = None


class Wanted(CheckedStruct, frozen=True, kw_only=True):
    """A block that would help.

    Attributes:
        nominal: its nominal length, quanta.
        unit: the unit that it is marked in.
        role: gauge block or wear block.
        max_error: where a required ratio limits the error of its stack, the most that the block
            may be off, quanta: by the worst case its margin and the size of its deviation (the
            margin alone if corrected); by variances its expanded uncertainty, k = 2, with all that
            the measure counts, and with the deviation as one more uncertainty if not corrected.
    """

    nominal: int
    unit: Unit = "mm"
    role: Role = "gauge"
    max_error: int | None = None


class StackBlocks(Named, frozen=True, kw_only=True):
    """A stack, as ids of its blocks."""

    blocks: tuple[str, ...]


class ScarceBlock(Struct, frozen=True, kw_only=True):
    """A block that stacks contend for, and what one more of it would serve.

    Attributes:
        nominal: its nominal length, quanta.
        unit: the unit that it is marked in.
        role: gauge block or wear block.
        like: id of the block on the shelf that one more would be equal to, errors included.
        on_shelf: how many of this nominal length and role may be used now.
        contenders: stacks needed at one time that contend for it: each has one in this plan or in
            ``plan``, or cannot be built without one. At that time ``plan`` needs the one more; of
            several such times, that with the most contenders.
        contended_from: start of the time in which all of them are needed; None where it has none.
        contended_until: its end, itself not included; None likewise.
        stacks_with_one_more: how many can be served with one more, shown by ``plan``.
        most_stacks_with_one_more: no plan with one more serves more (proven).
        plan: stacks side by side with one more; there, ``like`` is the id of two equal blocks.
    """

    nominal: int
    unit: Unit = "mm"
    role: Role = "gauge"
    like: str
    on_shelf: int
    contenders: tuple[StackName, ...]
    contended_from: datetime | None = None
    contended_until: datetime | None = None
    stacks_with_one_more: int
    most_stacks_with_one_more: int
    plan: tuple[StackBlocks, ...]


class Shortage(Struct, frozen=True, kw_only=True):
    """Why not every target can be served.

    Attributes:
        cause: ``wanted_at_once`` each target, or all of a set-up, can be served by itself (proven):
            only that they are wanted at one time stands in the way; ``restricted`` some cannot,
            but each that cannot has remedies; ``blocks_missing`` some cannot, even with all
            blocks that may be used (proven); ``undecided`` none of this was shown in the time.
        conflict: a set of stacks that cannot stand together; leaving out any one of them, the
            rest can, if ``smallest_conflict_proven`` is true. Empty where none was found in time.
        smallest_conflict_proven: whether no smaller set of stacks conflicts (proven).
        contended_from: start of the time in which all stacks of the conflict are needed; None where
            it has no start, or they are not all needed at one time.
        contended_until: its end, itself not included; None likewise.
        blocks_to_add: blocks that together would let every stack be built but those that are
            ``not_helped``, each a member of some composition; empty if there are none, or none were
            found in the time given.
        not_helped: stacks that could not be built with these blocks either.
        scarce_blocks: blocks of which a single one more would serve more stacks, best first; only
            where it is proven that no plan for the shelf as it is serves more than this one, and
            where all targets have one priority. Empty if none was found with a limited effort.
    """

    cause: ShortageCause = "undecided"
    conflict: tuple[StackName, ...]
    smallest_conflict_proven: bool
    blocks_to_add: tuple[Wanted, ...] = ()
    not_helped: tuple[StackName, ...] = ()
    contended_from: datetime | None = None
    contended_until: datetime | None = None
    scarce_blocks: tuple[ScarceBlock, ...] = ()


class ServedBound(Struct, frozen=True, kw_only=True):
    """What is proven of the stacks of one priority.

    Attributes:
        priority: as the targets state it; None for those without one.
        served: no plan that serves as many of each more urgent priority serves more of this one;
            None where a more urgent priority is not settled.
    """

    priority: int | None
    served: int | None


class Bounds(Struct, frozen=True, kw_only=True):
    """What is proven of every plan: no plan serves more, none of those does better.

    Attributes:
        served: no plan serves more stacks; with priorities, none that serves as many of each more
            urgent priority as can be. `wrung.targets.served_at_most` says it of targets.
        total_blocks: lower bound for plans that serve as many; None where nothing is known, or
            where an earlier objective is not settled.
        largest_worst_case_error: likewise; None, too, where the answer has `Compared`, which then
            holds the bounds of what was compared.
        total_worst_case_error: likewise.
        by_priority: what is proven of each priority, the most urgent first; empty where no target
            has one.
    """

    served: int
    total_blocks: int | None = None
    largest_worst_case_error: int | None = None
    total_worst_case_error: int | None = None
    by_priority: tuple[ServedBound, ...] = ()


class Compared(Struct, frozen=True, kw_only=True):
    """The errors that plans were compared by, if not the worst-case error of `Stack`.

    Its figures are of the measure asked for, see `wrung.metrology.ErrorMeasure`: quanta of 0.01 nm
    for the worst case, variances in (0.1 nm)² for the expanded uncertainty.

    Attributes:
        kind: what is compared.
        corrected: whether known offsets count as allowed for.
        unequal_limits: whether unequal limits of grades count as what they are.
        largest: of any stack; 0 without stacks.
        total: over all stacks.
        largest_bound: no plan that serves as many does better; None as in `Bounds`.
        total_bound: likewise.
    """

    kind: ErrorKind
    corrected: bool
    unequal_limits: bool
    largest: int
    total: int
    largest_bound: int | None = None
    total_bound: int | None = None


class BlockChanges(Struct, frozen=True, kw_only=True):
    """The blocks changed between stacks that follow one another, as for check points.

    Attributes:
        block_changes: total number of blocks taken off or put on between one stack and the next.
        lower_bound: no plan that serves the same targets, and is no worse by any value of the
            objective, changes fewer.
    """

    block_changes: int
    lower_bound: int

    @property
    def proven(self) -> bool:
        """Whether no plan that is as good changes fewer."""
        return self.block_changes == self.lower_bound


class Diagnostics(Struct, frozen=True, kw_only=True):
    """How the answer was found; for information only.

    Attributes:
        engine: what found the plan; None where no search was needed.
        stages: what took how long, in the order in which it ended.
    """

    engine: Literal["candidates", "direct"] | None = None
    stages: tuple[StageTime, ...] = ()


class Answer(Struct, frozen=True, kw_only=True):
    """The plan for a request.

    Attributes:
        outcome: of all targets, those of angle blocks as well: ``optimal`` every one served,
            proven best; ``feasible`` every one served, not proven best; ``partial`` some are
            served; ``infeasible`` none can be; ``unknown`` the search ended before anything was
            found. It ends at its time limit, or earlier where it has nothing more to try.
        proven: of a partial answer, that no plan serves more targets; of any other, that the
            outcome itself is proven (true of ``optimal`` and ``infeasible`` only).
        objective_proven: no plan that serves as many stacks is better by the objective, with the
            errors of ``compared_errors`` where that is given.
        objective: what was asked for.
        total_blocks: over all stacks.
        largest_worst_case_error: of any stack; 0 without stacks.
        total_worst_case_error: over all stacks.
        bounds: what is proven; equal to the totals where the answer is proven.
        stacks: one for each target served, in the order of the targets.
        unmet: the targets without a stack.
        shortage: why, if a target is unmet for lack of blocks.
        compared_errors: what errors were compared by; None for the worst-case error.
        changes: from stack to stack, where any follow one another; of plans that are otherwise
            as good, one with few changes is chosen.
        preferences: for each that was asked for, in that order, what the stacks of lengths come to
            and what is proven of it.
        cases: the plans for angle blocks, one a case. Totals, bounds, stacks and unmet targets of
            this answer are those of gauge blocks of length.
        solve_ms: time taken, ms.
        diagnostics: how it was found.
    """

    outcome: Outcome
    proven: bool
    objective_proven: bool
    objective: Objective
    total_blocks: int
    largest_worst_case_error: int
    total_worst_case_error: int
    bounds: Bounds
    stacks: tuple[Stack, ...] = ()
    unmet: tuple[Unmet, ...] = ()
    shortage: Shortage | None = None
    compared_errors: Compared | None = None
    changes: BlockChanges | None = None
    preferences: tuple[PreferenceResult, ...] = ()
    cases: "tuple[CasePlan, ...]" = ()
    solve_ms: float
    diagnostics: Diagnostics


class CasePlan(Struct, frozen=True, kw_only=True):
    """The plan for one case of angle blocks, of all targets that name it.

    Attributes:
        case: its name.
        plan: an answer of its own. Its lengths are angles in quanta of 1e-9 seconds, and blocks
            that subtract have negative nominals.
    """

    case: str
    plan: Answer
