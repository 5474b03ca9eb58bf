"""The independent check of alternatives and trade-offs.

Each stack and each plan is held to the rules of `wrung.verify`, as an answer of its own; then come
the rules of what stands beside what.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Final, TypeAlias, Unpack

from wrung.answers import Answer, Bounds, Compared, Diagnostics, Stack, Unmet
from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.checker.errors import Kind, compared_pairs, errors_first, kind_of
from wrung.checker.verify import Breach, verify
from wrung.choices import Alternatives, TradeOff
from wrung.metrology.error_measure import WORST_CASE
from wrung.options import Options
from wrung.targets import Target

_UNSAID: Final = frozenset({"outcome", "changes", "preferences"})
"""Rules of what an answer says beside its stacks; a plan here says nothing of the kind."""

_Values: TypeAlias = tuple[int, ...]


@typed
def verify_alternatives(
    blocks: Sequence[Block],
    targets: Sequence[Target],
    answer: Answer,
    found: Alternatives,
    **options: Unpack[Options],
) -> tuple[Breach, ...]:
    """Check alternatives; give it the same options as `wrung.alternatives`.

    Returns:
        Every breach found; empty if they hold.

    Raises:
        InputError: a block has no usable statement of its error.
    """
    plans = [_plan(answer, targets, (each.stack,), each.compared_errors) for each in found.stacks]
    measure = options.get("error_measure", WORST_CASE)
    kinds = {block.id: kind_of(block, measure) for block in blocks}
    return (
        *_verified(blocks, targets, plans, options),
        *_claims("alternatives", _alike(answer, found, kinds)),
        *_claims("ranks", _ranks(answer, found, [_values(plan) for plan in plans])),
    )


@typed
def verify_trade_off(
    blocks: Sequence[Block],
    targets: Sequence[Target],
    answer: Answer,
    found: TradeOff,
    **options: Unpack[Options],
) -> tuple[Breach, ...]:
    """Check a trade-off; give it the same options as `wrung.trade_off`.

    Returns:
        Every breach found; empty if it holds.

    Raises:
        InputError: a block has no usable statement of its error.
    """
    plans = [_plan(answer, targets, each.stacks, each.compared_errors) for each in found.points]
    return (
        *_verified(blocks, targets, plans, options),
        *_totals(found, plans),
        *_claims("points", _points(found, plans)),
        *_claims("points", _priorities(targets, plans)),
        *_claims("points", _ends(answer, found, plans)),
    )


def _plan(
    answer: Answer,
    targets: Sequence[Target],
    stacks: tuple[Stack, ...],
    compared: Compared | None,
) -> Answer:
    """The stacks as an answer that claims nothing of its proof."""
    errors = [stack.worst_case_error for stack in stacks]
    served = {stack.name for stack in stacks}
    # The reason that claims nothing, as a plan here says nothing of what it leaves out.
    missing = tuple(
        Unmet(target=each.target, role=each.role, reason="not_decided")
        for target in targets
        for each in target.requirements()
        if each.name not in served
    )
    return Answer(
        outcome="partial" if missing else "feasible",
        proven=False,
        objective_proven=False,
        objective=answer.objective,
        total_blocks=sum(len(stack.blocks) for stack in stacks),
        largest_worst_case_error=max(errors, default=0),
        total_worst_case_error=sum(errors),
        bounds=Bounds(served=answer.bounds.served),
        stacks=stacks,
        unmet=missing,
        compared_errors=compared,
        solve_ms=0.0,
        diagnostics=Diagnostics(),
    )


def _verified(
    blocks: Sequence[Block], targets: Sequence[Target], plans: Sequence[Answer], options: Options
) -> Iterator[Breach]:
    """The breaches of each plan as an answer."""
    # Angle blocks are planned apart, and no plan here says anything of them.
    lengths = [target for target in targets if target.requirements()]
    found = (each for plan in plans for each in verify(blocks, lengths, plan, **options))
    return (breach for breach in found if breach.rule not in _UNSAID)


def _claims(rule: str, details: Iterator[str]) -> Iterator[Breach]:
    return (Breach(rule=rule, detail=detail, claim=True) for detail in details)


def _values(plan: Answer) -> _Values:
    """What plans are compared by, in the order of the objective."""
    pairs = compared_pairs(plan)
    ordered = pairs if plan.objective == "fewest_blocks" else errors_first(pairs)
    return tuple(value for value, _ in ordered)


def _alike(answer: Answer, found: Alternatives, kinds: Mapping[str, Kind]) -> Iterator[str]:
    """No two stacks are of the same kinds of blocks."""
    stacks = [*answer.stacks, *(each.stack for each in found.stacks)]
    # By kinds, as a copy of a block in another set makes no other stack to choose.
    made_of = [sorted(str(kinds.get(block.id)) for block in stack.blocks) for stack in stacks]
    for place, each in enumerate(made_of):
        if each in made_of[:place]:
            yield "two stacks are of the same kinds of blocks"


def _ranks(answer: Answer, found: Alternatives, values: Sequence[_Values]) -> Iterator[str]:
    """A rank is 1 + the number of better stacks, and nothing is better than what is proven best."""
    every = [*values, *([_values(answer)] if answer.stacks else [])]
    for each, own in zip(found.stacks, values, strict=True):
        # Equal stacks share a rank, so only those strictly better count.
        better = sum(other < own for other in every)
        if each.rank != 1 + better:
            yield f"{better} stacks are better than rank {each.rank}"
    if list(values) != sorted(values):
        yield "the alternatives do not stand in their order"
    if answer.objective_proven and values and min(values) < _values(answer):
        yield "one is better than the answer, which is proven best"


def _totals(found: TradeOff, plans: Sequence[Answer]) -> Iterator[Breach]:
    """The totals are those of the stacks."""
    for point, plan in zip(found.points, plans, strict=True):
        said = (point.total_blocks, point.largest_worst_case_error, point.total_worst_case_error)
        errors = (plan.largest_worst_case_error, plan.total_worst_case_error)
        if said != (plan.total_blocks, *errors):
            yield Breach(rule="totals", detail="the totals are not those of the stacks")


def _points(found: TradeOff, plans: Sequence[Answer]) -> Iterator[str]:
    """Blocks rise and errors fall from point to point; all serve as many; a proof is whole."""
    if len({len(plan.stacks) for plan in plans}) > 1:
        yield "the points do not serve the same number of targets"
    for one, other in pairwise(_blocks_and_largest(plan) for plan in plans):
        if not (one[0] < other[0] and one[1] > other[1]):
            yield f"{other} does not lie beyond {one}"
    if found.complete and not all(point.proven for point in found.points):
        yield "not all points are proven, and so they are not all"


def _priorities(targets: Sequence[Target], plans: Sequence[Answer]) -> Iterator[str]:
    """All points serve as many of each priority."""
    priority = {r.name: r.priority for target in targets for r in target.requirements()}
    served = [Counter(priority.get(stack.name) for stack in plan.stacks) for plan in plans]
    if any(one != served[0] for one in served):
        yield "the points do not serve as many of each priority"


def _ends(answer: Answer, found: TradeOff, plans: Sequence[Answer]) -> Iterator[str]:
    """The ends do not contradict the answer, as far as that is proven."""
    if not answer.objective_proven:
        return
    blocks, largest = _blocks_and_largest(answer)
    pairs = [_blocks_and_largest(plan) for plan in plans]
    if answer.stacks and not pairs:
        yield "there is a plan, and so there is a point"
    if any(len(plan.stacks) != len(answer.stacks) for plan in plans):
        yield "the points do not serve as many as can be served"
    if pairs and answer.objective == "fewest_blocks" and pairs[0] != (blocks, largest):
        yield "the first point is not that with the fewest blocks"
    if answer.objective == "least_error" and found.complete and pairs and pairs[-1][1] != largest:
        yield "the last point is not that of the least error"


def _blocks_and_largest(plan: Answer) -> tuple[int, int]:
    blocks, largest, _ = compared_pairs(plan)
    return blocks[0], largest[0]
