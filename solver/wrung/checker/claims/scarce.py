"""Blocks said to be scarce: the plan with one more of them, and who contends for it and when.

That no plan with one more serves more than is said is a proof that is not repeated here.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

from wrung.answers import ScarceBlock, StackBlocks
from wrung.checker.case import Case, Found
from wrung.checker.contention import body_of, common_time, may_stand, needed_together
from wrung.checker.errors import kind_of
from wrung.stack_names import StackName
from wrung.targets import Requirement


def scarce_blocks(case: Case) -> Iterator[Found]:
    """One more of each would serve as many as is said, and stacks contend for it as is said."""
    shortage = case.answer.shortage
    for scarce in () if shortage is None else shortage.scarce_blocks:
        faults = (
            _numbers(case, scarce),
            _described(case, scarce),
            _plan(case, scarce),
            _contended(case, scarce),
        )
        for fault in (each for each in faults if each):
            yield None, f"{scarce.like!r}: {fault}"


def _numbers(case: Case, scarce: ScarceBlock) -> str:
    served, most = len(case.answer.stacks), len(case.requirements)
    shown, bound = scarce.stacks_with_one_more, scarce.most_stacks_with_one_more
    # With several priorities, a plan that serves the urgent ones need not serve the most in all.
    if case.answer.bounds.served != served or len(case.answer.bounds.by_priority) > 1:
        return "it is not proven how many can be served without one more"
    if not served < shown <= bound <= most:
        return f"{shown} to {bound} cannot be what one more serves"
    return "" if len(scarce.plan) == shown else "the plan does not serve as many"


def _described(case: Case, scarce: ScarceBlock) -> str:
    like = case.blocks.get(scarce.like)
    if like is None or scarce.like not in case.allowed or like.body is not None:
        return "no such block may be used"
    if (like.nominal, like.role, like.unit) != (scarce.nominal, scarce.role, scarce.unit):
        return "it is described wrongly"
    there = len(_alike(case, scarce))
    return "" if there == scarce.on_shelf else f"there are {there}, not {scarce.on_shelf}"


def _alike(case: Case, scarce: ScarceBlock) -> set[str]:
    kind = (scarce.nominal, scarce.role, None)
    kinds = {name: (b.nominal, b.role, b.body) for name, b in case.blocks.items()}
    return {name for name in case.allowed if kinds[name] == kind}


def _plan(case: Case, scarce: ScarceBlock) -> str:
    """What is wrong with the plan, where there are two of that one block."""
    names = [stack.name for stack in scarce.plan]
    used = {block for stack in scarce.plan for block in stack.blocks}
    if len(set(names)) < len(names) or not set(names) <= case.requirements.keys():
        return "its plan does not name targets asked for"
    if not used <= case.allowed:
        return "its plan uses blocks that may not be used"
    stacks = [(stack, case.requirements[stack.name]) for stack in scarce.plan]
    if not all(_keeps(case, stack, wanted) for stack, wanted in stacks):
        return "a stack of its plan is not what was asked for"
    beside = _side_by_side(case, stacks, scarce.like)
    return "" if beside else "its plan needs a block twice at one time"


def _keeps(case: Case, stack: StackBlocks, wanted: Requirement) -> bool:
    blocks = [case.blocks[name] for name in stack.blocks]
    off = sum(block.nominal for block in blocks) - wanted.length
    return (
        len(blocks) > 0
        and wanted.tolerance.lower <= off <= wanted.tolerance.upper
        and may_stand(blocks, wanted)
        and case.keeps_ratio(blocks, wanted)
    )


def _side_by_side(case: Case, stacks: Sequence[tuple[StackBlocks, Requirement]], like: str) -> bool:
    """Whether at any time each block is used once, and that one twice at most."""
    uses: dict[tuple[str, bool], list[Requirement]] = {}
    for stack, wanted in stacks:
        for name in stack.blocks:
            uses.setdefault(body_of(name, case.blocks), []).append(wanted)
    twice = body_of(like, case.blocks)
    return all(
        not any(needed_together(some) for some in combinations(holders, 3 if own == twice else 2))
        for own, holders in uses.items()
    )


def _contended(case: Case, scarce: ScarceBlock) -> str:
    """What is wrong with who contends for it, and with the time."""
    names, alike = set(scarce.contenders), _alike(case, scarce)
    if not names or len(names) < len(scarce.contenders) or not names <= case.requirements.keys():
        return "those that contend for it are not targets asked for"
    wanted = [case.requirements[name] for name in scarce.contenders]
    if not needed_together(wanted):
        return "those that contend for it are not needed at one time"
    since, until = scarce.contended_from, scarce.contended_until
    # A single stack that takes two of them contends with no other.
    alone = len(wanted) == 1 and since is until is None
    if not alone and (since, until) != common_time(wanted):
        return "those that contend for it are not needed at that time"
    plan = {stack.name: stack.blocks for stack in scarce.plan}
    now = {each.name: [placed.id for placed in each.blocks] for each in case.answer.stacks}
    served, holders = plan.keys() | now.keys(), {*_holders(plan, alike), *_holders(now, alike)}
    if any(name in served and name not in holders for name in names):
        return "some are served without it"
    equal = {block for block in alike if not case.ratios or _equal(case, block, scarce.like)}
    needs = sum(Counter(plan.get(name, ()))[block] for name in names for block in equal)
    return "" if needs == len(equal) + 1 else "its plan does not need the one more then"


def _equal(case: Case, one: str, other: str) -> bool:
    """Whether one block may stand for another where errors are limited."""
    return kind_of(case.blocks[one], case.measure) == kind_of(case.blocks[other], case.measure)


def _holders(stacks: Mapping[StackName, Sequence[str]], blocks: set[str]) -> set[StackName]:
    return {name for name, own in stacks.items() if blocks.intersection(own)}
