"""Plan single stacks anew, and leave the others as they are."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Answer, Stack
from wrung.blocks import Block
from wrung.checker.verify import verify
from wrung.preferences import applicable
from wrung.stack_names import StackName
from wrung.targets import LengthTarget, Requirement
from wrung.targets.requirement import WEAR_COUNT
from wrung_service.usecases.find_choices import Choices
from wrung_service.usecases.rebuilt import (
    BESIDE_STACKS,
    answer_without_claims,
    requirements_of,
    stack_of,
)
from wrung_service.usecases.refused import refuse_if_broken
from wrung_service.usecases.replace_blocks import replace_blocks
from wrung_service.usecases.solve_stacks import Solve, SolvedStacks, worked_out
from wrung_service.usecases.stack_query import StackQuery, options_of, overdue_ids

_LIMIT_MS: Final = 2_000.0
"""For one search; a single stack takes a millisecond or two."""


class OldStack(Struct, frozen=True, kw_only=True):
    """A stack of a plan, by the ids of its blocks; without any, one that it has yet to get."""

    name: StackName
    blocks: tuple[str, ...]


class Change(Struct, frozen=True, kw_only=True):
    """A stack that is planned anew; ``after`` is None if it cannot be, or ``decided`` is false."""

    name: StackName
    before: tuple[str, ...]
    after: tuple[str, ...] | None
    decided: bool = True


class Replanned(Struct, frozen=True, kw_only=True):
    """A plan after some of its stacks were planned anew."""

    solved: SolvedStacks
    changes: tuple[Change, ...]

    @property
    def whole(self) -> bool:
        """Whether every stack that failed has another in its place."""
        return all(change.after is not None for change in self.changes)

    @property
    def decided(self) -> bool:
        """Whether no search ended before it was known if there is a stack."""
        return all(change.decided for change in self.changes)


def replan(
    query: StackQuery, old: Sequence[OldStack], failed: frozenset[str], solve: Solve
) -> Replanned:
    """Another stack in place of each that has a failed block, with the fewest changes.

    ``query`` is that of the plan, with the crib as it is without the plan's own promises.

    Raises:
        AnswerRefusedError: a new stack is wrong; that is a fault of this program.
    """
    anew = _Anew(query, failed, solve)
    stacks = anew.stacks(old)
    wanted = requirements_of(query)
    answer = answer_without_claims(
        query, [stacks[each.name] for each in wanted if each.name in stacks]
    )
    _check(query, answer)
    return Replanned(solved=worked_out(answer, query, Choices()), changes=tuple(anew.changes))


class _Anew:
    """Goes through the stacks of one plan."""

    def __init__(self, query: StackQuery, failed: frozenset[str], solve: Solve) -> None:
        self._query, self._solve = query, solve
        forbidden = {*failed, *query.exclude, *overdue_ids(query)}
        allowed = None if query.only is None else frozenset(query.only)
        self._usable = {
            block.id: block
            for block in query.blocks
            if block.id not in forbidden and (allowed is None or block.id in allowed)
        }
        self._wanted = {each.name: each for each in requirements_of(query)}
        self._windows = {
            target.ref: window for target, window in zip(query.targets, query.windows, strict=True)
        }
        self.changes: list[Change] = []
        self._decided = True

    def stacks(self, old: Sequence[OldStack]) -> dict[StackName, Stack]:
        """All stacks that there are in the end, by name."""
        stay = [each for each in old if self._stays(each)]
        used = {each.name: each.blocks for each in stay}
        for each in old:
            if each.name not in used:
                self._decided = True
                new = self._new(each, used)
                after = None if new is None else tuple(block.id for block in new)
                self.changes.append(
                    Change(
                        name=each.name,
                        before=each.blocks,
                        after=after,
                        decided=after is not None or self._decided,
                    )
                )
                if after is not None:
                    used[each.name] = after
        return {name: self._stack(name, ids) for name, ids in used.items()}

    def _stays(self, stack: OldStack) -> bool:
        names = set(stack.blocks)
        return (
            bool(names)
            and self._usable.keys() >= names
            and not self._taken(stack.name) & names
            and self._does(stack)
        )

    def _does(self, stack: OldStack) -> bool:
        """Whether the blocks, as they are now, still are what the stack must be."""
        wanted = self._wanted[stack.name]
        blocks = [self._usable[name] for name in stack.blocks]
        wear = sum(block.role == "wear" for block in blocks)
        if wear != WEAR_COUNT[wanted.wear_blocks] or (wear and not _wear_outside(blocks)):
            return False
        return not self._limited(stack.name) or self._solve_one(blocks, wanted) is not None

    def _limited(self, name: StackName) -> bool:
        """Whether the stack must keep a ratio, which its blocks may do only together."""
        return any(each.name == name for each in self._query.required_ratios)

    def _taken(self, name: StackName) -> frozenset[str]:
        crib = self._query.crib
        return frozenset() if crib is None else crib.taken_in(self._windows[name.target])

    def _stack(self, name: StackName, ids: Iterable[str]) -> Stack:
        blocks = [self._usable[each] for each in ids]
        return stack_of(self._wanted[name], blocks, self._query.joint_allowance)

    def _new(
        self, old: OldStack, used: Mapping[StackName, tuple[str, ...]]
    ) -> Sequence[Block] | None:
        wanted, taken = self._wanted[old.name], set(self._taken(old.name))
        for name, ids in used.items():
            if self._together(wanted, self._wanted[name]):
                crib = self._query.crib
                taken.update(ids if crib is None else crib.whole(ids))
        free = [block for name, block in self._usable.items() if name not in taken]
        # How good a part of a stack must be depends on the rest, so such a stack is planned whole.
        limited = self._limited(old.name)
        left = [block for block in free if block.id in old.blocks and not limited]
        return replace_blocks(wanted, left, free, self._solve_one)

    def _together(self, one: Requirement, other: Requirement) -> bool:
        """Whether both stacks are needed at one moment, so that they share no block."""
        if one.turn and other.turn and one.turn.of == other.turn.of:
            return one.turn.step == other.turn.step
        return self._windows[one.target].meets(self._windows[other.target])

    def _solve_one(self, blocks: Sequence[Block], wanted: Requirement) -> Sequence[Block] | None:
        query = self._query
        target = LengthTarget(
            ref=wanted.target,
            length=wanted.length,
            tolerance=wanted.tolerance,
            max_blocks=wanted.max_blocks,
            wear_blocks=wanted.wear_blocks,
        )
        answer = self._solve(
            [block for block in blocks if wanted.takes_step or block.body is None],
            [target],
            objective="fewest_blocks",
            joint_allowance=query.joint_allowance,
            exclude=(),
            only=None,
            error_measure=query.error_measure,
            required_ratios=[
                replace(each, role=None)
                for each in query.required_ratios
                if each.name == wanted.name
            ],
            preferences=applicable(query.preferences, blocks),
            time_limit_ms=_LIMIT_MS,
            memory_limit_mb=query.memory_limit_mb,
            cancel=None,
        )
        if not answer.stacks:
            self._decided = self._decided and answer.proven
            return None
        return [self._usable[placed.id] for placed in answer.stacks[0].blocks]


def _wear_outside(blocks: Sequence[Block]) -> bool:
    """Whether wear blocks are at the ends only."""
    return all(block.role == "gauge" for block in blocks[1:-1])


def _check(query: StackQuery, answer: Answer) -> None:
    breaches = verify(query.blocks, query.targets, answer, **options_of(query))
    # Nothing is claimed: only what is wrong with stacks counts.
    refuse_if_broken(each for each in breaches if not each.claim and each.rule not in BESIDE_STACKS)
