"""The checker's look at what an answer claims beside its stacks: bounds, proofs, reasons, advice.

Where only these do not hold, the stacks are right: they may be built, but nothing else trusted.
"""

from collections.abc import Callable, Iterable, Iterator
from typing import Final, TypeAlias

from wrung.answers import Nearest, Remedy, Shortage, Unmet
from wrung.blocks import Block
from wrung.targets import Requirement
from wrung.targets.requirement import WEAR_COUNT
from wrung.verified_case import Breach, Case, claim
from wrung.verified_changes import changes_bound_fault
from wrung.verified_errors import bounds_of, compared_pairs, errors_first

_Claims: TypeAlias = Iterator[Breach]
_LONGEST: Final = 1 << 62


def _changes_bound(case: Case) -> _Claims:
    """No more blocks are said to have to change than do."""
    fault = changes_bound_fault(case.answer)
    if fault is not None:
        yield claim(rule="changes bound", detail=fault)


def _outcome(case: Case) -> _Claims:
    """The outcome follows from which targets are served and from what is proven."""
    answer = case.answer
    # Angle blocks are planned apart, but one outcome speaks for all that was asked for.
    plans = (answer, *(each.plan for each in answer.cases))
    complete = len(answer.stacks) == len(case.requirements) and not any(p.unmet for p in plans)
    some = any(plan.stacks for plan in plans)
    holds = {
        "optimal": complete and answer.proven and answer.objective_proven,
        "feasible": complete and not answer.proven and not answer.objective_proven,
        "partial": some and not complete and (answer.proven or not answer.objective_proven),
        "infeasible": not some and not complete and answer.proven,
        "unknown": not some and not complete and not answer.proven,
    }
    if not holds[answer.outcome]:
        detail = f"{answer.outcome} contradicts the stacks or what is said to be proven"
        yield claim(rule="outcome", detail=detail)


def _served_bound(case: Case) -> _Claims:
    """No more is served than proven possible; a proven answer serves just that."""
    served, bound = len(case.answer.stacks), case.answer.bounds.served
    # Less than the bound may be served only while nothing is proven.
    settled = case.answer.proven or case.answer.objective_proven
    if not served <= bound <= len(case.requirements) or (settled and served != bound):
        detail = f"{served} targets are served and {bound} said to be the most"
        yield claim(rule="served bound", detail=detail)


def _objective_bounds(case: Case) -> _Claims:
    """No total is better than its bound; a bound is given only where the one before is met."""
    settled = case.answer.bounds.served == len(case.answer.stacks)
    pairs = compared_pairs(case.answer)
    if case.answer.compared_errors is not None and bounds_of(case.answer.bounds)[1:] != (
        None,
        None,
    ):
        yield claim(rule="objective bounds", detail="worst-case errors were not compared")
    for total, bound in pairs if case.answer.objective == "fewest_blocks" else errors_first(pairs):
        if bound is not None and (bound > total or not settled):
            yield claim(rule="objective bounds", detail=f"{bound} cannot be a bound of {total}")
        settled = settled and bound == total
    if case.answer.objective_proven and not settled:
        detail = "the objective is said to be proven, but the bounds are not met"
        yield claim(rule="objective bounds", detail=detail)


def _nearest_lengths(case: Case) -> _Claims:
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
                detail = f"the blocks {', '.join(nearest.blocks)} cannot stand for it"
                yield claim(rule="nearest lengths", name=unmet.name, detail=detail)


def _remedies(case: Case) -> _Claims:
    """A stack that would be a remedy keeps every restriction that is not said to be lifted."""
    for unmet in case.answer.unmet:
        wanted = case.requirements.get(unmet.name)
        for remedy in unmet.remedies if wanted else ():
            if wanted is None or not _would_serve(case, unmet, wanted, remedy):
                detail = f"the blocks {', '.join(remedy.blocks)} are no remedy"
                yield claim(rule="remedies", name=unmet.name, detail=detail)


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
    wear = 0 if "wear_blocks" in lifted else WEAR_COUNT[wanted.wear_blocks]
    most = None if "max_blocks" in lifted else wanted.max_blocks
    return (
        any(low <= total <= high for total in _totals(case, blocks))
        and sum(block.role == "wear" for block in blocks) == wear
        and (most is None or len(blocks) <= most)
    )


def _shortage(case: Case) -> _Claims:
    """The conflict names targets asked for, and some of them has no stack."""
    shortage = case.answer.shortage
    if shortage is None:
        return
    conflict, served = set(shortage.conflict), {stack.name for stack in case.answer.stacks}
    if len(conflict) != len(shortage.conflict) or not conflict <= case.requirements.keys():
        yield claim(rule="shortage", detail="the conflict does not name targets asked for")
    missing = any(each.reason == "cannot_be_built" for each in case.answer.unmet)
    if missing and shortage.cause == "wanted_at_once":
        yield claim(rule="shortage", detail="a target that cannot be built is not only in the way")
    helped = all(each.remedies for each in case.answer.unmet if each.reason == "cannot_be_built")
    if shortage.cause == "restricted" and not (missing and helped):
        yield claim(rule="shortage", detail="no restriction is known to stand in the way")
    if conflict and conflict <= served:
        yield claim(rule="shortage", detail="all targets said to conflict are served")
    if not _contended(case, shortage):
        yield claim(rule="shortage", detail="not all of the conflict are needed at that time")
    if any(wanted.nominal <= 0 for wanted in shortage.blocks_to_add):
        yield claim(rule="shortage", detail="a block to add has no length")


def _contended(case: Case, shortage: Shortage) -> bool:
    """Whether every stack of the conflict is needed throughout the time said to be contended."""
    wanted = [case.requirements[name] for name in shortage.conflict if name in case.requirements]
    since, until = shortage.contended_from, shortage.contended_until
    starts = [each.needed_from for each in wanted if each.needed_from is not None]
    ends = [each.needed_until for each in wanted if each.needed_until is not None]
    return (since is None or (since in starts and since == max(starts))) and (
        until is None or (until in ends and until == min(ends))
    )


def _buildable(case: Case, unmet: Unmet, wanted: Requirement, nearest: Nearest) -> bool:
    """Whether those blocks may be used, and have the length and number that they should."""
    free = case.allowed - (case.busy(wanted) if unmet.reason == "blocks_in_use" else set())
    names = set(nearest.blocks)
    if len(names) != len(nearest.blocks) or not names <= free or unmet.reason == "not_decided":
        return False
    blocks = [case.blocks[name] for name in nearest.blocks]
    return (
        nearest.length in _totals(case, blocks)
        and sum(block.role == "wear" for block in blocks) == WEAR_COUNT[wanted.wear_blocks]
        and (wanted.max_blocks is None or len(blocks) <= wanted.max_blocks)
    )


def _totals(case: Case, blocks: Iterable[Block]) -> set[int]:
    """The lengths of a stack of them, each turned over or not: the answer does not say which."""
    totals = {0}
    for block in blocks:
        totals = {total + way for total in totals for way in case.nominals(block)}
    return totals


ANGLE_CLAIMS: Final[tuple[Callable[[Case], _Claims], ...]] = (
    _outcome,
    _served_bound,
    _objective_bounds,
    _nearest_lengths,
    _remedies,
    _shortage,
)
"""What holds of the plan of a case of angle blocks, too."""

CLAIMS: Final = (_changes_bound, *ANGLE_CLAIMS)
