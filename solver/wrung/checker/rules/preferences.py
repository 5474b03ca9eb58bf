"""What decides between plans that are equally good: changes from step to step, and preferences."""

from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from itertools import pairwise

from wrung.blocks import Block, grade_row, margin
from wrung.checker.case import Case, Found
from wrung.checker.contention import body_of
from wrung.preferences import Preference


def changes(case: Case) -> Iterator[Found]:
    """As many blocks change as is said, where stacks follow one another."""
    counts = list(_counts(case))
    changed, said = sum(counts), case.answer.changes
    if said is None and counts:
        yield None, f"{changed} blocks change, and nothing is said of it"
    if said is not None and (not counts or said.block_changes != changed):
        yield None, f"{changed} blocks change between the stacks, not {said.block_changes}"


def _counts(case: Case) -> Iterator[int]:
    """Blocks of one step and not of the other, for each step with stacks and the next of them."""
    in_use: dict[str | None, dict[tuple[int, ...], set[tuple[str, bool]]]] = {}
    for stack, wanted in case.stacks:
        if wanted.turn is not None:
            steps = in_use.setdefault(wanted.turn.of, {})
            bodies = {body_of(placed.id, case.blocks) for placed in stack.blocks}
            steps.setdefault(wanted.turn.step, set()).update(bodies)
    for steps in in_use.values():
        for one, other in pairwise(sorted(steps)):
            yield len(steps[one] ^ steps[other])


def changes_bound(case: Case) -> Iterator[Found]:
    """No more blocks are said to have to change than do."""
    said = case.answer.changes
    if said is not None and not 0 <= said.lower_bound <= said.block_changes:
        yield None, f"{said.lower_bound} cannot be a bound of {said.block_changes}"


def values(case: Case) -> Iterator[Found]:
    """Of each preference, in the order asked for, what the stacks come to."""
    said = case.answer.preferences
    if [(each.goal, each.set) for each in said] != [(p.goal, p.set) for p in case.preferences]:
        yield None, "they are not those asked for, in their order"
        return
    used = [block for stack, _ in case.stacks for block in case.really(stack)]
    allowed = [case.blocks[name] for name in case.allowed]
    for each, asked in zip(said, case.preferences, strict=True):
        value = _value(asked, used, allowed)
        if each.value != value:
            yield None, f"the stacks come to {value} by {each.goal}, not {each.value}"


def bounds(case: Case) -> Iterator[Found]:
    """No plan is said to need more than this one has."""
    for each in case.answer.preferences:
        if not 0 <= each.lower_bound <= each.value:
            yield None, f"{each.lower_bound} cannot be a bound of {each.value} by {each.goal}"


def _value(asked: Preference, used: Sequence[Block], allowed: Collection[Block]) -> int:
    """What the checker counts for a preference, from the words that explain it."""
    match asked.goal:
        case "spread_wear":
            return _readings(used)
        case "spare_best":
            return sum(_worth_sparing(block, allowed) for block in used)
        case "prefer_set":
            return sum(block.set != asked.set for block in used)


def _readings(used: Sequence[Block]) -> int:
    """The counters, each read when the block is taken, after which it shows one more."""
    counters = Counter({block.id: block.uses for block in used})
    total = 0
    for block in used:
        total += counters[block.id]
        counters[block.id] += 1
    return total


def _worth_sparing(block: Block, allowed: Collection[Block]) -> bool:
    """Whether it is better than another of its length, and none of these is better than it."""
    others = [each for each in allowed if (each.nominal, each.role) == (block.nominal, block.role)]
    return any(_order(block, each) < 0 for each in others) and all(
        _order(block, each) <= 0 for each in others
    )


def _order(one: Block, other: Block) -> int:
    """Below 0 if the first is better, above 0 if the second is: by grade, else by margin."""
    limits = [_limits_of_grade(one), _limits_of_grade(other)]
    if None in limits or limits[0] == limits[1]:
        return margin(one) - margin(other)
    return -1 if limits == sorted(limits, key=lambda each: each or ()) else 1


def _limits_of_grade(block: Block) -> tuple[int, ...] | None:
    """Variation in length and deviation that the grade allows; None if it says neither."""
    row = grade_row(block)
    if row is None:
        return None
    deviation = max(row.plus, row.minus)
    return (deviation if row.variation is None else row.variation, deviation)
