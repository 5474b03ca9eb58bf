"""Solve stacks of different times, where a block may be free at one of them and taken at another.

Stacks whose times meet, directly or through others, are one part, and have the blocks that are free
throughout all of its times. Parts share no block at one time, so each is solved by itself.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import TypeAlias, TypeVar

from msgspec.structs import replace

from wrung.answers import (
    Answer,
    Bounds,
    Compared,
    Outcome,
    ServedBound,
    Shortage,
    Stack,
    Unmet,
    Wanted,
)
from wrung.preferences import applicable
from wrung.stack_names import StackName
from wrung.targets import Target
from wrung_service.usecases.crib_shelf import CribShelf, Window
from wrung_service.usecases.preferences_apart import (
    preferences_of_all,
    preferences_of_part,
    worn_by,
)
from wrung_service.usecases.stack_query import StackQuery

SolveOne: TypeAlias = Callable[[StackQuery, int], Answer]
"""Solves one of as many parts as are left."""
Each = TypeVar("Each", Stack, Unmet)


def solve_apart(query: StackQuery, solve: SolveOne) -> Answer:
    """The plans of all parts, as one; what the stacks of one part use is worn in those after it."""
    parts = queries_of_parts(query)
    answers: list[Answer] = []
    for place, part in enumerate(parts):
        worn = worn_by(part, answers)
        answer = solve(worn, len(parts) - place)
        preferences = preferences_of_part(query, answer, as_counted=worn is part)
        answers.append(replace(answer, preferences=preferences))
    return answers[0] if len(answers) == 1 else together(query, answers)


def queries_of_parts(query: StackQuery) -> tuple[StackQuery, ...]:
    """The query part by part; as it is, where it brings its blocks."""
    if query.crib is None:
        return (query,)
    windows = query.windows
    parts = tuple(
        _part(query, [query.targets[k] for k in part], query.crib, [windows[k] for k in part])
        for part in parts_of(windows)
    )
    # With the same blocks for all, one search weighs the parts against one another.
    if query.preferences and len({part.blocks for part in parts}) == 1:
        return (_part(query, query.targets, query.crib, windows),)
    return parts


def parts_of(windows: Sequence[Window]) -> tuple[tuple[int, ...], ...]:
    """Indexes of windows that meet, directly or through others, in order."""
    part = list(range(len(windows)))
    for one, window in enumerate(windows):
        for other in range(one):
            if window.meets(windows[other]):
                both = {part[one], part[other]}
                part = [min(both) if own in both else own for own in part]
    return tuple(
        tuple(k for k, own in enumerate(part) if own == each) for each in sorted(set(part))
    )


def _part(
    query: StackQuery, targets: Sequence[Target], shelf: CribShelf, windows: Iterable[Window]
) -> StackQuery:
    """The query for some of its targets, with the blocks that are free at their times."""
    taken = shelf.taken_in(*windows)
    blocks = tuple(each for each in query.blocks if each.id not in taken)
    free, refs = {block.id for block in blocks}, {target.ref for target in targets}
    return replace(
        query,
        blocks=blocks,
        targets=tuple(targets),
        exclude=tuple(name for name in query.exclude if name in free),
        only=None if query.only is None else tuple(n for n in query.only if n in free),
        left_out=tuple(each for each in query.left_out if each.id in free),
        purposes=tuple(each for each in query.purposes if each.target in refs),
        required_ratios=tuple(each for each in query.required_ratios if each.target in refs),
        preferences=applicable(query.preferences, blocks),
    )


def together(query: StackQuery, answers: Sequence[Answer]) -> Answer:
    """One answer from those of parts that share nothing."""
    errors = [answer.largest_worst_case_error for answer in answers]
    order = {target.ref: place for place, target in enumerate(query.targets)}
    proven = all(answer.objective_proven for answer in answers) and _largest_is_free(answers)
    return replace(
        answers[0],
        outcome=_outcome(answers, proven=proven),
        proven=all(answer.proven for answer in answers) and _outcome_proven(answers, proven=proven),
        objective_proven=proven,
        total_blocks=sum(answer.total_blocks for answer in answers),
        largest_worst_case_error=max(errors),
        total_worst_case_error=sum(answer.total_worst_case_error for answer in answers),
        bounds=_bounds(answers, proven=proven),
        stacks=_in_order([s for a in answers for s in a.stacks], order),
        unmet=_in_order([u for a in answers for u in a.unmet], order),
        shortage=_shortage(answers),
        compared_errors=_compared([a.compared_errors for a in answers], proven=proven),
        changes=next((answer.changes for answer in answers if answer.changes), None),
        preferences=preferences_of_all(answers, proven=proven),
        cases=tuple(case for answer in answers for case in answer.cases),
        solve_ms=sum(answer.solve_ms for answer in answers),
    )


def _shortage(answers: Sequence[Answer]) -> Shortage | None:
    """That of the first time that runs short, with the blocks that help at all times."""
    known = [answer.shortage for answer in answers if answer.shortage]
    if not known:
        return None
    add = Counter[Wanted]()
    for each in known:
        # What is added for one time is there at another.
        add |= Counter(each.blocks_to_add)
    left = [
        name
        for answer in answers
        for name in (answer.shortage.not_helped if answer.shortage else _names(answer.unmet))
    ]
    return replace(known[0], blocks_to_add=tuple(add.elements()), not_helped=tuple(left))


def _names(unmet: Iterable[Unmet]) -> tuple[StackName, ...]:
    return tuple(each.name for each in unmet)


def _in_order(stacks: Sequence[Each], order: dict[str, int]) -> tuple[Each, ...]:
    return tuple(sorted(stacks, key=lambda each: order[each.target]))


def _largest_is_free(answers: Sequence[Answer]) -> bool:
    """Whether no part could be better by having errors as large as the worst part's."""
    worst = max(map(_largest, answers))
    return all(len(answer.stacks) <= 1 or _largest(answer) == worst for answer in answers)


def _largest(answer: Answer) -> int:
    compared = answer.compared_errors
    return answer.largest_worst_case_error if compared is None else compared.largest


def _compared(parts: Sequence[Compared | None], *, proven: bool) -> Compared | None:
    known = [each for each in parts if each is not None]
    if not known:
        return None
    largest, total = max(each.largest for each in known), sum(each.total for each in known)
    return replace(
        known[0],
        largest=largest,
        total=total,
        largest_bound=largest if proven else None,
        total_bound=total if proven else None,
    )


def _outcome(answers: Sequence[Answer], *, proven: bool) -> Outcome:
    outcomes: set[Outcome] = {answer.outcome for answer in answers}
    if outcomes <= {"optimal", "feasible"}:
        return "optimal" if outcomes == {"optimal"} and proven else "feasible"
    if outcomes <= {"infeasible"} or outcomes <= {"unknown"}:
        return next(iter(outcomes))
    return "partial" if any(answer.stacks for answer in answers) else "unknown"


def _outcome_proven(answers: Sequence[Answer], *, proven: bool) -> bool:
    """Of plans that serve everything, only the best is proven."""
    whole = all(answer.outcome in ("optimal", "feasible") for answer in answers)
    return proven if whole else True


def _bounds(answers: Sequence[Answer], *, proven: bool) -> Bounds:
    bounds = [answer.bounds for answer in answers]
    served = sum(each.served for each in bounds)
    urgent = _by_priority(bounds)
    if not proven:
        return Bounds(served=served, by_priority=urgent)
    blocks = sum(answer.total_blocks for answer in answers)
    if any(answer.compared_errors for answer in answers):
        return Bounds(served=served, total_blocks=blocks, by_priority=urgent)
    return Bounds(
        served=served,
        by_priority=urgent,
        total_blocks=blocks,
        largest_worst_case_error=max(answer.largest_worst_case_error for answer in answers),
        total_worst_case_error=sum(answer.total_worst_case_error for answer in answers),
    )


def _by_priority(parts: Sequence[Bounds]) -> tuple[ServedBound, ...]:
    """What is proven of each priority over all parts, the most urgent first."""
    if not any(part.by_priority for part in parts):
        return ()
    without = (ServedBound(priority=None, served=each.served) for each in parts)
    stated = [
        bound
        for part, plain in zip(parts, without, strict=True)
        for bound in part.by_priority or (plain,)
    ]
    priorities = {bound.priority for bound in stated}
    return tuple(
        ServedBound(priority=each, served=_sum(b.served for b in stated if b.priority == each))
        for each in sorted(priorities, key=lambda p: (p is None, p or 0))
    )


def _sum(numbers: Iterable[int | None]) -> int | None:
    known = list(numbers)
    return None if None in known else sum(number or 0 for number in known)
