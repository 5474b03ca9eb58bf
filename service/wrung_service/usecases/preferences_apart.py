"""Preferences over parts of a query that are solved one after another, each with its own blocks."""

from collections import Counter
from collections.abc import Sequence

from msgspec.structs import replace

from wrung.answers import Answer
from wrung.preferences import PreferenceResult
from wrung_service.usecases.stack_query import StackQuery


def worn_by(query: StackQuery, before: Sequence[Answer]) -> StackQuery:
    """The query with the uses of its blocks in other stacks counted; itself if there are none."""
    used = Counter(
        placed.id for answer in before for stack in answer.stacks for placed in stack.blocks
    )
    if not query.preferences or used.keys().isdisjoint(block.id for block in query.blocks):
        return query
    blocks = (replace(each, uses=each.uses + used[each.id]) for each in query.blocks)
    return replace(query, blocks=tuple(blocks))


def preferences_of_part(
    query: StackQuery, answer: Answer, *, as_counted: bool
) -> tuple[PreferenceResult, ...]:
    """Those of an answer, and of all that could not be asked, as no block of a set is free.

    Unless counters are as they were at first, nothing is proven from ``spread_wear`` on.
    """
    known = {(each.goal, each.set): each for each in answer.preferences}
    results: list[PreferenceResult] = []
    is_open = False
    for asked in query.preferences:
        # Then every block is one from elsewhere.
        elsewhere = PreferenceResult(
            goal=asked.goal,
            set=asked.set,
            value=answer.total_blocks,
            lower_bound=answer.bounds.total_blocks or 0,
        )
        found = known.get((asked.goal, asked.set), elsewhere)
        is_open = is_open or (asked.goal == "spread_wear" and not as_counted)
        results.append(replace(found, lower_bound=0) if is_open else found)
    return tuple(results)


def preferences_of_all(answers: Sequence[Answer], *, proven: bool) -> tuple[PreferenceResult, ...]:
    """The sums over parts; bounds add up as long as all before is ``proven`` in each part."""
    proven = proven and all(answer.changes is None or answer.changes.proven for answer in answers)
    results: list[PreferenceResult] = []
    for each in zip(*(answer.preferences for answer in answers), strict=True):
        bound = sum(part.lower_bound for part in each) if proven else 0
        value = sum(part.value for part in each)
        results.append(replace(each[0], value=value, lower_bound=bound))
        proven = proven and all(part.proven for part in each)
    return tuple(results)
