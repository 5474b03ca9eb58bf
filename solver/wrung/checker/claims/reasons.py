"""Why a target has no stack, and what would help."""

from collections.abc import Iterable, Iterator
from typing import Final

from wrung.answers import Nearest, Remedy, Shortage, Unmet
from wrung.blocks import Block
from wrung.checker.case import Case, Found
from wrung.checker.contention import common_time, may_stand, overlap
from wrung.targets import Requirement

_LONGEST: Final = 1 << 62


def nearest_lengths(case: Case) -> Iterator[Found]:
    """A nearest length lies outside the tolerance and can be built as the target asks."""
    for unmet in case.answer.unmet:
        wanted = case.requirements.get(unmet.name)
        if wanted is None:
            continue
        low = wanted.length + wanted.tolerance.lower
        high = wanted.length + wanted.tolerance.upper
        # Ranges, as they are asked whether they hold a length and are never listed.
        sides = (
            (unmet.nearest_below, range(1, low)),
            (unmet.nearest_above, range(high + 1, _LONGEST)),
        )
        for nearest, outside in sides:
            if nearest is None:
                continue
            if nearest.length not in outside or not _buildable(case, unmet, wanted, nearest):
                yield unmet.name, f"the blocks {', '.join(nearest.blocks)} cannot stand for it"


def remedies(case: Case) -> Iterator[Found]:
    """A stack that would be a remedy keeps every restriction that is not said to be lifted."""
    for unmet in case.answer.unmet:
        wanted = case.requirements.get(unmet.name)
        for remedy in unmet.remedies if wanted else ():
            if wanted is None or not _would_serve(case, unmet, wanted, remedy):
                yield unmet.name, f"the blocks {', '.join(remedy.blocks)} are no remedy"


def _would_serve(case: Case, unmet: Unmet, wanted: Requirement, remedy: Remedy) -> bool:
    lifted, names = set(remedy.lifted), set(remedy.blocks)
    forbidden = {name for by, ids in case.withheld.items() if by not in lifted for name in ids}
    if unmet.reason == "blocks_in_use":
        forbidden |= case.busy(wanted)
    known = names <= case.blocks.keys() and len(names) == len(remedy.blocks)
    if unmet.reason == "not_decided" or not lifted or not known or names & forbidden:
        return False
    blocks = [case.blocks[name] for name in remedy.blocks]
    low, high = wanted.length + wanted.tolerance.lower, wanted.length + wanted.tolerance.upper
    fits = any(low <= total <= high for total in _sums(case, blocks))
    return fits and may_stand(blocks, wanted, lifted)


def shortage(case: Case) -> Iterator[Found]:
    """The conflict names targets asked for, and some of them has no stack."""
    shortage = case.answer.shortage
    if shortage is None:
        return
    conflict, served = set(shortage.conflict), {stack.name for stack in case.answer.stacks}
    if len(conflict) != len(shortage.conflict) or not conflict <= case.requirements.keys():
        yield None, "the conflict does not name targets asked for"
    missing = any(each.reason == "cannot_be_built" for each in case.answer.unmet)
    if missing and shortage.cause == "wanted_at_once":
        yield None, "a target that cannot be built is not only in the way"
    helped = all(each.remedies for each in case.answer.unmet if each.reason == "cannot_be_built")
    if shortage.cause == "restricted" and not (missing and helped):
        yield None, "no restriction is known to stand in the way"
    if conflict and conflict <= served:
        yield None, "all targets said to conflict are served"
    if not _contended(case, shortage):
        yield None, "not all of the conflict are needed at that time"
    if not set(shortage.not_helped) <= {each.name for each in case.answer.unmet}:
        yield None, "what is served needs no help"
    if any(wanted.nominal <= 0 for wanted in shortage.blocks_to_add):
        yield None, "a block to add has no length"


def _contended(case: Case, shortage: Shortage) -> bool:
    """Whether every stack of the conflict is needed throughout the time said to be contended."""
    wanted = [case.requirements[name] for name in shortage.conflict if name in case.requirements]
    since, until = shortage.contended_from, shortage.contended_until
    start, end = common_time(wanted)
    return since in (None, start) and until in (None, end)


def _buildable(case: Case, unmet: Unmet, wanted: Requirement, nearest: Nearest) -> bool:
    """Whether those blocks may be used, and have the length and number that they should."""
    free = case.allowed - (case.busy(wanted) if unmet.reason == "blocks_in_use" else set())
    names = set(nearest.blocks)
    if len(names) != len(nearest.blocks) or not names <= free or unmet.reason == "not_decided":
        return False
    blocks = [case.blocks[name] for name in nearest.blocks]
    return nearest.length in _sums(case, blocks) and may_stand(blocks, wanted)


def _sums(case: Case, blocks: Iterable[Block]) -> set[int]:
    """The lengths of a stack of them, each turned over or not: the answer does not say which."""
    totals = {0}
    for block in blocks:
        totals = {total + way for total in totals for way in case.nominals(block)}
    return totals


def holders(case: Case) -> Iterator[Found]:
    """A target said to hold blocks has some at that time, and the priority that is said.

    Where it is proven that no more can be served, it is no less urgent than the one without.
    """
    several = len({each.priority for each in case.requirements.values()}) > 1
    for unmet in case.answer.unmet:
        wanted = case.requirements.get(unmet.name)
        if wanted is None or not (unmet.held_by or unmet.held_by_priority):
            continue
        beside = [(stack, other) for stack, other in case.stacks if overlap(wanted, other)]
        if several:
            beside = [each for each in beside if each[1].priority == unmet.held_by_priority]
        holding = {stack.target for stack, _ in beside}
        held = set(unmet.held_by)
        if unmet.reason != "blocks_in_use" or not held or not holding.issuperset(held):
            yield unmet.name, "targets are said to hold blocks that they do not"
        elif case.answer.proven and not any(_as_urgent(other, wanted) for _, other in beside):
            detail = "less urgent targets hold the blocks, and no more is said to be possible"
            yield unmet.name, detail


def _as_urgent(one: Requirement, other: Requirement) -> bool:
    """Whether a requirement is as urgent as another, or more so."""
    return other.priority is None or (one.priority is not None and one.priority <= other.priority)
