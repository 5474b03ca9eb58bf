"""What the checker counts for each preference: from the words that explain it."""

from collections import Counter
from collections.abc import Collection, Iterator, Sequence

from wrung import grades
from wrung.blocks import Block, margin
from wrung.checker.case import Case
from wrung.errors import InputError
from wrung.preferences import Preference


def preference_values(case: Case) -> Iterator[int]:
    """What the stacks come to by each preference that was asked for, in order."""
    used = [block for stack, _ in case.stacks() for block in case.really(stack)]
    for asked in case.preferences:
        yield _value(asked, used, [case.blocks[name] for name in case.allowed])


def _value(asked: Preference, used: Sequence[Block], allowed: Collection[Block]) -> int:
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
    if block.grade is None:
        return None
    try:
        deviation = grades.limit_deviation(block.grade, block.nominal, block.unit)
        variation = grades.variation_in_length(block.grade, block.nominal, block.unit)
    except InputError:
        return None
    return (deviation if variation is None else variation, deviation)
