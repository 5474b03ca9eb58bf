"""A better plan from one whose stacks differ greatly in size: some are built again together.

A plan that is put together stack by stack leaves the last stack what the others did not want. Where
they take up nearly the whole shelf, that may be fifty pieces beside stacks of four. Prices say
little then, as each stack by itself could be short. Here a few stacks, mostly with the one of the
largest error, are taken apart and built again in random order; all but the last of them leave some
pieces, drawn at random, to those that follow. It goes on from any plan that is no worse (ruin and
recreate, see `stacking`).
"""

from collections.abc import Sequence
from random import Random

from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.building.coarse_tables import Mask, as_mask
from wrung.planning.building.stacking import Stacking, as_held, as_plan
from wrung.planning.finding import Plan, values_of
from wrung.planning.parts import put
from wrung.planning.problem import Problem, error_of


def recreated(problem: Problem, plan: Plan, deadline: Deadline) -> Plan:
    """The plan, or one no worse by the goals in order where its stacks differ greatly in size.

    It serves as many demands of each class, perhaps others.
    """
    tuning, until = deadline.tuning, deadline.share(deadline.tuning.share_to_recreate)
    sizes = sorted(len(stack) for stack in plan if stack)
    if not sizes or sizes[-1] <= tuning.unlike * sizes[(len(sizes) - 1) // 2]:
        return plan
    again, best, in_vain = _Recreating(problem, plan, until), values_of(problem, plan), 0
    classes = len(problem.priorities)
    while in_vain < tuning.most_recreated_in_vain and again.goes_on and not until.passed:
        other = again.rebuilt(plan, until)
        values = values_of(problem, other)
        as_many = values[:classes] == best[:classes]
        in_vain = 0 if as_many and values < best else in_vain + 1
        if as_many and values <= best:
            plan, best = other, values
    return plan


class _Recreating:
    """Stacks from tables with room for many pieces."""

    def __init__(self, problem: Problem, plan: Plan, deadline: Deadline) -> None:
        self._problem, self._tuning = problem, deadline.tuning
        self._able: list[int] = []
        effort = self._tuning.effort_to_recreate * len(plan)
        for most in self._tuning.coarse_recreated:
            # Thousands of targets take some time each time.
            if self._able or deadline.passed:
                break
            self._stacking = Stacking(problem, effort, replace(self._tuning, most_coarse=most))
            self._able = [k for k in range(len(plan)) if self._stacking.builder.reads(k)]
        # Seeded, so that the same request gets the same answer.
        self._random = Random(1)  # noqa: S311 - nothing is to be kept secret

    @property
    def goes_on(self) -> bool:
        """Whether there are tables, and some effort is left."""
        return bool(self._able) and self._stacking.effort > 0

    def rebuilt(self, plan: Plan, deadline: Deadline) -> Plan:
        """The plan with some of its stacks built again, as far as that succeeds."""
        held, some = as_held(plan), self._to_rebuild(plan)
        for demand in some:
            held = put(held, demand, 0)
        for demand in some:
            left = self._left_for_others() if demand != some[-1] else 0
            stacked = self._stacking.with_stack(held, demand, deadline, quick=True, left=left)
            held = stacked or held
        return as_plan(held)

    def _left_for_others(self) -> Mask:
        """Some pieces, or none."""
        every = range(len(self._problem.pieces))
        part = self._random.choice(self._tuning.parts_left)
        return as_mask(self._random.sample(every, len(every) // part)) if part else 0

    def _to_rebuild(self, plan: Plan) -> Sequence[int]:
        """A few demands in random order, now and then one without a stack."""
        random, often = self._random, self._tuning.part_with_worst
        served = [k for k in self._able if plan[k]]
        missing = [k for k in self._able if not plan[k]]
        if not served:
            return ()
        first = random.choice(served)
        if random.random() < often:
            first = max(served, key=lambda k: error_of(self._problem, k, plan[k] or ()))
        near = sorted(set(served).intersection(self._stacking.rivals[first]))
        beside = random.randint(1, self._tuning.most_recreated_beside)
        some = [first, *random.sample(near, min(beside, len(near)))]
        if missing and random.random() > often:
            some.append(random.choice(missing))
        random.shuffle(some)
        return some
