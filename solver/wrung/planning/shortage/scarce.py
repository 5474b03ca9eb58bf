"""Which blocks are scarce: those of which a single one more would serve more demands.

Where stacks contend for one time, one more block serves at most one more stack: without the stack
that holds it, what remains is a plan for the shelf as it is. Over a day it may serve one stack
after another. The most is then proven as for the shelf itself, by an exact packing of the finest
pieces (`selection/scarcity.py`), and shown by a plan. All effort is counted.
"""

from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import ScarceBlock, StackBlocks, Wanted
from wrung.deadline import Deadline
from wrung.planning.assignment import hand_out
from wrung.planning.building.stacking import Stacking, as_held, as_plan
from wrung.planning.finding import Plan
from wrung.planning.knapsack import Knapsack
from wrung.planning.lone import buildable_alone
from wrung.planning.objectives.serving import bench_for_serving, own_caps, serve_soon
from wrung.planning.parts import allowed, contended, free_pieces, put
from wrung.planning.problem import Problem, crowded
from wrung.planning.selection.scarcity import one_more, pack, patterns_of
from wrung.planning.shortage.completion import completed


class _Raised(Struct, frozen=True, kw_only=True):
    """The shelf with one more piece like ``like``: it is the last piece.

    Attributes:
        plan: a plan for it.
        most: no plan for it serves more demands.
    """

    like: int
    problem: Problem
    plan: Plan
    most: int

    @property
    def served(self) -> int:
        return _served(self.plan)


def scarce_blocks(
    problem: Problem, plan: Plan, most_served: int, deadline: Deadline
) -> tuple[ScarceBlock, ...]:
    """Those found, best first; none where it is not proven that the plan serves the most."""
    # With several priorities, the plan need not serve the most in all.
    if problem.signed or len(problem.priorities) > 1:
        return ()
    if _served(plan) != most_served or crowded(problem, deadline.tuning) or deadline.passed:
        return ()
    found: dict[tuple[bool, bool, int], _Raised] = {}
    for raised in _all_raised(problem, plan, deadline):
        kind = problem.pieces[raised.like].likeness
        if deadline.passed or len(found) == deadline.tuning.most_scarce_tried:
            break
        if kind not in found:
            found[kind] = _improved(raised, deadline)
    promising = sorted(found.values(), key=lambda each: (-each.most, -each.served))
    settled = _settled(promising, deadline)
    best = [_scarce(problem, plan, r, deadline) for r in settled if r.served > most_served]
    # Of those that serve as many, the one that most contend for.
    return tuple(
        sorted(
            best,
            key=lambda block: (
                -block.stacks_with_one_more,
                -block.most_stacks_with_one_more,
                -len(block.contenders),
                block.nominal,
            ),
        )
    )


def _all_raised(problem: Problem, plan: Plan, deadline: Deadline) -> Iterator[_Raised]:
    """The kinds that may be worth it, each with a first plan and bound."""
    most = min(len(problem.demands), _served(plan) + _most_in_turn(problem))
    if most > _served(plan) + 1:
        for like in _ranked(problem, _served(plan), deadline):
            yield _with_one_more(problem, plan, like, most)
    yield from _completing(problem, plan, most, deadline)


def _with_one_more(problem: Problem, plan: Plan, like: int, most: int) -> _Raised:
    pieces = (*problem.pieces, problem.pieces[like])
    # No stack has more blocks than there are, and there is one more.
    demands = tuple(
        replace(each, most=min(each.requirement.max_blocks or len(pieces), len(pieces)))
        for each in problem.demands
    )
    raised = replace(problem, pieces=pieces, demands=demands)
    return _Raised(like=like, problem=raised, plan=plan, most=most)


def _most_in_turn(problem: Problem) -> int:
    """No more demands than this can follow one another, with no two needed at one time."""
    left, count = set(range(len(problem.demands))), 0
    # Of each clique at most one; cliques that cover all, the largest first.
    while left:
        left -= set(max(problem.cliques, key=lambda clique: len(left.intersection(clique))))
        count += 1
    return count


def _ranked(problem: Problem, served: int, deadline: Deadline) -> Iterator[int]:
    """A piece of each kind of which one more lets more patterns be packed, best first."""
    bench = bench_for_serving(problem, deadline)
    patterns = None if bench is None else patterns_of(bench, own_caps(bench))
    if bench is None or patterns is None:
        return
    kinds = {k for k in patterns.rows.kinds.ravel().tolist() if 0 <= k < bench.stock.steps}
    for _ in range(deadline.tuning.most_scarce_ranked):
        packed = one_more(bench, patterns, sorted(kinds), deadline)
        if packed.spare is None or -packed.value <= served:
            return
        kinds.remove(packed.spare)
        yield bench.stock.pieces[packed.spare][0]


def _completing(problem: Problem, plan: Plan, most: int, deadline: Deadline) -> Iterator[_Raised]:
    """Those with which some demand without a stack is served beside the plan as it is.

    If there are none, or few kinds in all, those of which the plan uses every piece: with other
    stacks rebuilt, one more may help.
    """
    kinds = _kinds(problem)
    rebuilding = len(kinds) <= deadline.tuning.most_scarce_tried
    left = dict(kinds)
    for demand in (k for k, stack in enumerate(plan) if stack is None):
        wanted, free = problem.demands[demand], free_pieces(problem, plan, demand)
        share = deadline.share(deadline.tuning.share_for_sums)
        supply = Knapsack(problem.pieces, free, wanted, wanted.high, share)
        for block in tuple(left) if wanted.high > 0 else ():
            # Of long lengths in fine steps, one stack takes tens of ms.
            if deadline.passed:
                return
            if (one := completed(supply, wanted, (block,))) is None:
                continue
            raised = _with_one_more(problem, plan, kinds[block], most)
            stack = (*one.pieces, len(problem.pieces))
            if allowed(raised.problem, demand, stack):
                del left[block]
                yield replace(raised, plan=put(plan, demand, stack))
    idle = set(range(len(problem.pieces))).difference(*(stack or () for stack in plan))
    spare = {problem.pieces[k].likeness for k in idle}
    for like in left.values() if rebuilding or len(left) == len(kinds) else ():
        if problem.pieces[like].likeness not in spare:
            yield _with_one_more(problem, plan, like, most)


def _kinds(problem: Problem) -> dict[Wanted, int]:
    """The blocks that one more may be equal to, the best of each kind; no steps."""
    kinds: dict[Wanted, int] = {}
    single = (index for index, piece in enumerate(problem.pieces) if not piece.step)
    # The best comes last and stays.
    for index in sorted(single, key=lambda k: -problem.pieces[k].margin):
        block = problem.pieces[index].block
        kinds[Wanted(nominal=block.nominal, role=block.role)] = index
    return kinds


def _improved(raised: _Raised, deadline: Deadline) -> _Raised:
    """With a better bound, and with more stacks, if need be with others rebuilt."""
    # Packing mostly shows soon that a single stack more cannot be served; where several are in
    # question, plans tell more.
    one = raised.most == raised.served + 1
    for step in (_bounded, _rebuilt) if one else (_rebuilt, _bounded):
        if raised.served < raised.most and not deadline.passed:
            raised = step(raised, deadline)
    return raised


def _bounded(raised: _Raised, deadline: Deadline) -> _Raised:
    """With the bound that packing the finest pieces gives."""
    bench = bench_for_serving(raised.problem, deadline)
    if bench is None:
        return raised
    packed = pack(bench, own_caps(bench), deadline)
    return replace(raised, most=max(min(sum(packed), raised.most), raised.served))


def _rebuilt(raised: _Raised, deadline: Deadline) -> _Raised:
    """With more stacks, others rebuilt if need be."""
    effort = deadline.tuning.effort_of_one_more * len(raised.plan)
    stacking = Stacking(raised.problem, effort, deadline.tuning)
    held = stacking.with_more(as_held(raised.plan), deadline, raised.most)
    return replace(raised, plan=as_plan(held))


def _settled(best: Sequence[_Raised], deadline: Deadline) -> Iterator[_Raised]:
    """With the plans of searches, where plan and bound do not meet, until that takes too long."""
    starts = 0
    for raised in best:
        open_ = raised.served < raised.most and not deadline.passed
        few = starts < deadline.tuning.most_starts_searched
        bench = bench_for_serving(raised.problem, deadline) if open_ and few else None
        if bench is None:
            yield raised
            continue
        starts += len(bench.starts)
        soon = serve_soon(bench, raised.most, raised.served, deadline)
        better = len(soon.chosen) > raised.served
        plan = hand_out(bench, soon.chosen) if better else raised.plan
        yield replace(raised, plan=plan, most=soon.most)


def _scarce(problem: Problem, plan: Plan, raised: _Raised, deadline: Deadline) -> ScarceBlock:
    piece = problem.pieces[raised.like]
    own = [k for k, each in enumerate(raised.problem.pieces) if each.likeness == piece.likeness]
    contenders = _contenders(raised, plan, own, deadline)
    contended_from, contended_until = contended(problem, contenders)
    return ScarceBlock(
        nominal=piece.nominal,
        unit=piece.block.unit,
        role=piece.block.role,
        like=piece.block.id,
        on_shelf=len(own) - 1,
        contenders=tuple(problem.demands[k].requirement.name for k in contenders),
        contended_from=contended_from,
        contended_until=contended_until,
        stacks_with_one_more=raised.served,
        most_stacks_with_one_more=raised.most,
        plan=tuple(
            StackBlocks(
                target=demand.requirement.target,
                role=demand.requirement.role,
                blocks=tuple(raised.problem.pieces[index].block.id for index in stack),
            )
            for demand, stack in zip(raised.problem.demands, raised.plan, strict=True)
            if stack is not None
        ),
    )


def _contenders(
    raised: _Raised, plan: Plan, own: Sequence[int], deadline: Deadline
) -> tuple[int, ...]:
    """The demands that contend for such a piece while the one more is in use.

    They hold one in a plan, or cannot be built without.
    """
    problem, pieces = raised.problem, set(own)
    others = tuple(each for k, each in enumerate(problem.pieces) if k not in pieces)
    without = buildable_alone(replace(problem, pieces=others), deadline)
    contending = [
        any(pieces.intersection(stack or ()) for stack in stacks)
        if any(stacks)
        else can == "impossible"
        for can, *stacks in zip(without, plan, raised.plan, strict=True)
    ]
    equal = {k for k in own if _equal(problem, k, raised.like)}
    held = [len(equal.intersection(stack or ())) for stack in raised.plan]
    # Otherwise those on the shelf would do, and this would be a plan for the shelf as it is.
    busy = [clique for clique in problem.cliques if sum(held[k] for k in clique) == len(equal)]
    return max((tuple(k for k in clique if contending[k]) for clique in busy), key=len)


def _equal(problem: Problem, one: int, other: int) -> bool:
    """Whether these pieces of one kind may stand for one another."""
    first, second = problem.pieces[one], problem.pieces[other]
    errors = (first.deviation, first.margin) == (second.deviation, second.margin)
    return errors or not problem.limits_errors


def _served(plan: Plan) -> int:
    return sum(stack is not None for stack in plan)
