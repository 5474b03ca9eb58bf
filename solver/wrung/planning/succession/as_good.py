# The solver's own sums carry no types.
# pyright: reportUnknownMemberType=false
"""The plans that are as good as one in hand, as a model, and what it counts of them."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import TypeAlias

from msgspec import Struct
from ortools.sat.python import cp_model

from wrung.deadline import Deadline
from wrung.planning.succession.costs import Cost
from wrung.planning.succession.counting import Step

Uses: TypeAlias = Mapping[int, cp_model.IntVar]
"""By kind, how many pieces of it stand in a stack."""


class AsGood(Struct, frozen=True, kw_only=True):
    """A model of them.

    Attributes:
        model: takes further limits.
        kinds: the pieces of each kind.
        uses: by demand.
    """

    model: cp_model.CpModel
    kinds: Sequence[Sequence[int]]
    uses: Sequence[Uses]

    def changes(
        self, pairs: Sequence[tuple[Step, Step]], deadline: Deadline
    ) -> cp_model.LinearExpr | None:
        """Blocks of both steps of each pair, less those that stay, which are of both.

        None if the time is up before it is complete.
        """
        steps = [step for pair in pairs for step in pair]
        both = [use for step in steps for demand in step for use in self.uses[demand].values()]
        stays: list[cp_model.IntVar] = []
        for pair in pairs:
            stays += self._stays(*pair)
            if deadline.passed:
                return None
        return cp_model.LinearExpr.sum(both) - 2 * cp_model.LinearExpr.sum(stays)

    def _stays(self, before: Step, after: Step) -> Iterator[cp_model.IntVar]:
        """For each kind that both steps can use, how many pieces of it they share at most."""
        one, other = self._together(before), self._together(after)
        for kind in one.keys() & other.keys():
            # Only bounded from above, as fewest changes means that most stay.
            stay = self.model.new_int_var(0, len(self.kinds[kind]), "")
            self.model.add(stay <= cp_model.LinearExpr.sum(one[kind]))
            self.model.add(stay <= cp_model.LinearExpr.sum(other[kind]))
            yield stay

    def cost(self, cost: Cost) -> cp_model.LinearExpr:
        """What plans come to; with rising costs, of kinds of one piece if it may be used twice."""
        uses = self._together(range(len(self.uses)))
        each = [cost.pieces[pieces[0]] for pieces in self.kinds]
        total = cp_model.LinearExpr.weighted_sum(
            [use for own in uses.values() for use in own],
            [each[kind] for kind, own in uses.items() for _ in own],
        )
        if not cost.rising:
            return total
        again = [self._again(uses[k]) for k in uses if len(self.kinds[k]) == 1 < len(uses[k])]
        return total + cp_model.LinearExpr.sum(again)

    def _again(self, uses: Sequence[cp_model.IntVar]) -> cp_model.IntVar:
        """0 + 1 + 2 and so on, one for each use of a piece, or more."""
        most, count = len(uses), cp_model.LinearExpr.sum(uses)
        more = self.model.new_int_var(0, most * (most - 1) // 2, "")
        # Tangents that meet n(n-1)/2 in every whole number.
        for slope in range(1, most):
            self.model.add(more >= slope * count - slope * (slope + 1) // 2)
        return more

    def _together(self, demands: Sequence[int]) -> dict[int, list[cp_model.IntVar]]:
        """By kind, how many pieces of it stand in each of these stacks."""
        found: defaultdict[int, list[cp_model.IntVar]] = defaultdict(list)
        for demand in demands:
            for kind, use in self.uses[demand].items():
                found[kind].append(use)
        return found
