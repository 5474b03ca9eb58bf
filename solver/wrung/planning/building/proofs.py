"""Simple proofs that demands cannot stand together, kept ready for many questions.

Each need names something that every stack uses, and how much of it is on the shelf: demands that
are needed at one time and need more than there is cannot all be served. Those that pass may still
not fit together.
"""

from collections.abc import Callable, Collection, Iterator, Sequence
from itertools import accumulate, takewhile

from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.building.fine import each_step, series_steps
from wrung.planning.problem import Problem, crowded
from wrung.tuning import TUNING, Tuning


class Need(Struct, frozen=True, kw_only=True):
    """The least that each demand takes of one thing, by index of the demand, and how much there is.

    It holds for demands that are needed at one time.
    """

    amounts: tuple[int, ...]
    supply: int

    def unserved(self, demands: Collection[int]) -> int:
        """At least this many of these demands cannot be served together."""
        # Those that need least first: no other choice of as many demands needs less.
        used = accumulate(sorted(self.amounts[k] for k in demands))
        return sum(1 for total in used if total > self.supply)

    def conflict(self, demands: Collection[int]) -> tuple[int, ...]:
        """The fewest of these demands that need more than there is; empty if they do not."""
        # Taking those that need most first uses up the supply with the fewest demands.
        greediest = sorted(demands, key=lambda k: (-self.amounts[k], k))
        used = list(accumulate(self.amounts[k] for k in greediest))
        enough = sum(1 for total in used if total <= self.supply)
        return tuple(sorted(greediest[: enough + 1])) if enough < len(used) else ()


def needs(problem: Problem, tuning: Tuning = TUNING) -> tuple[Need, ...]:
    """Every need that the problem's demands have."""
    demands, pieces = problem.demands, problem.pieces
    # Every end that asks for a wear block takes one.
    wear = Need(amounts=tuple(each.wear for each in demands), supply=sum(p.wear for p in pieces))
    if problem.signed:  # pieces that subtract make lengths up out of longer ones
        return (wear,)
    # The stacks together are no longer than all pieces together.
    total = sum(piece.nominal for piece in pieces)
    length = Need(amounts=tuple(max(each.low, 0) for each in demands), supply=total)
    # Where stacks have wear blocks, a fine one of these may be the piece.
    worn = any(each.wear for each in demands)
    # A length that is not a multiple of a step takes at least one piece that is not one either.
    fine = (
        Need(
            amounts=tuple(int(d.high // step.length * step.length < d.low) for d in demands),
            supply=len({pieces[k].body for k in step.fine if worn or not pieces[k].wear}),
        )
        for step in series_steps(problem, tuning)
    )
    return (wear, length, *fine)


class Proofs:
    """What is proven without a search: never wrong, but it cannot prove everything."""

    def __init__(self, problem: Problem, tuning: Tuning = TUNING) -> None:
        self._problem = problem
        self._needs = needs(problem, tuning)
        self._fine = each_step(problem, tuning)

    def served_at_most(self, alone: Sequence[int], deadline: Deadline) -> tuple[int, ...]:
        """By class, no plan that serves as many of those before it serves more.

        ``alone`` says how many of each class can be built at all. What there was no time to look
        at is not counted.
        """
        found: list[int] = []
        for last, own in enumerate(alone):
            urgent = {k for k, d in enumerate(self._problem.demands) if d.priority_class <= last}
            each = (self._unserved(c, deadline) for c in self._at_one_time(urgent, deadline))
            found.append(min(own, len(urgent) - max(each, default=0) - sum(found)))
        return tuple(found)

    def conflict(self, demands: Collection[int], deadline: Deadline) -> bool:
        """Whether these demands are proven not to stand together, in time."""
        return any(
            any(need.unserved(together) for need in self._needs)
            or not all(fine.together(together) for fine in self._fine)
            for together in self._at_one_time(demands, deadline)
        )

    def known_conflict(self, deadline: Deadline) -> tuple[int, ...] | None:
        """A conflict from which these proofs can remove no demand; None if they find none.

        After the deadline it is not reduced further.
        """
        found = set[tuple[int, ...]]()
        for clique in self._at_one_time(range(len(self._problem.demands)), deadline):
            found |= {need.conflict(clique) for need in self._needs}
            if self._unserved(clique, deadline):
                found.add(clique)
        smallest_first = sorted(found - {()}, key=_by_size)[: deadline.tuning.most_thinned]
        fewer = (
            thinned(conflict, lambda rest: self.conflict(rest, deadline))
            for conflict in smallest_first
        )
        return min(fewer, key=_by_size, default=None)

    def _at_one_time(
        self, demands: Collection[int], deadline: Deadline
    ) -> Iterator[tuple[int, ...]]:
        """Those of the demands that are needed at one time; none after the deadline."""
        seen = set[tuple[int, ...]]()
        cliques = () if crowded(self._problem, deadline.tuning) else self._problem.cliques
        for clique in takewhile(lambda _: not deadline.passed, cliques):
            together = tuple(k for k in clique if k in demands)
            if together not in seen:
                seen.add(together)
                yield together

    def _unserved(self, together: Collection[int], deadline: Deadline) -> int:
        """At least this many of the demands that are needed at one time are not served."""
        packed = (len(together) - fine.packed(together, deadline) for fine in self._fine)
        return max([*(need.unserved(together) for need in self._needs), *packed])


def thinned(
    demands: tuple[int, ...], conflict: Callable[[tuple[int, ...]], bool]
) -> tuple[int, ...]:
    """A conflict without those that one after another prove needless."""
    for demand in reversed(demands):
        rest = tuple(k for k in demands if k != demand)
        # What is not proven stays in: the conflict is then larger, but still one.
        if conflict(rest):
            demands = rest
    return demands


def _by_size(demands: tuple[int, ...]) -> tuple[int, tuple[int, ...]]:
    return (len(demands), demands)
