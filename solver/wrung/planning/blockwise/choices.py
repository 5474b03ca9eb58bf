"""The variables of the model over single blocks, and what they say about a plan."""

from collections import Counter
from collections.abc import Iterator, Sequence

from ortools.sat.python import cp_model

from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.finding import Plan
from wrung.planning.proof import Goal, goals_of
from wrung.planning.solvers import QuickModel


class Choices:
    """Which demands are served, and how many pieces of each kind stand in each stack.

    Attributes:
        scaled: the problem.
        model: what the rules add to.
        served: per demand, whether it has a stack.
        blocks: per demand, how many blocks its stack has.
        errors: per demand, the error of its stack or more, grains.
        largest: the largest of them or more, grains.
    """

    def __init__(self, scaled: Scaled) -> None:
        self.scaled = scaled
        self._uses: list[dict[int, cp_model.IntVar]] = []
        # With its aliases it would refer to itself, and be freed only later by the garbage
        # collector.
        self.model = QuickModel()
        self.served: list[cp_model.IntVar] = []
        self.blocks: list[cp_model.IntVar] = []
        self.errors: list[cp_model.IntVar] = []
        self.largest = self.model.new_int_var(0, scaled.worst, "")

    @property
    def size(self) -> int:
        """How many variables the model has."""
        return len(self.model.proto.variables)  # pyright: ignore[reportUnknownArgumentType, reportUnknownMemberType] -- untyped

    def open(self) -> Iterator[None]:
        """Make the variables, demand by demand."""
        for demand, wanted in enumerate(self.scaled.problem.demands):
            self.served.append(self.model.new_bool_var(""))
            self.blocks.append(self.model.new_int_var(0, wanted.most, ""))
            self.errors.append(self.model.new_int_var(0, self.scaled.worst, ""))
            self._uses.append(
                {
                    kind: self.model.new_int_var(0, len(self.scaled.pieces[kind]), "")
                    for kind in self.scaled.usable[demand]
                }
            )
            yield

    def uses(self, demand: int) -> dict[int, cp_model.IntVar]:
        """The kinds that may be in a stack, and how many pieces of each are."""
        return self._uses[demand]

    def total(self, demand: int, of: Sequence[int]) -> cp_model.LinearExpr:
        """The sum over the stack's pieces of a figure given per kind."""
        uses = self._uses[demand]
        return _weighted(list(uses.values()), [of[kind] for kind in uses])

    def off(self, demand: int) -> cp_model.LinearExpr:
        """How far its nominal length is from the target, grains; 0 where there is none."""
        window, served = self.scaled.windows[demand], self.served[demand]
        first = self.scaled.offset(demand) * served
        # A window of one length has no further steps, and the grain need not divide one.
        if len(window) == 1:
            return first + 0
        beyond = self.total(demand, self.scaled.nominals) - window.start * served
        return first + self.scaled.stride * beyond

    def sum(self, variables: Sequence[cp_model.IntVar]) -> cp_model.LinearExpr:
        """The sum of some of them."""
        return _weighted(variables, [1] * len(variables))

    def goals(self) -> Iterator[tuple[cp_model.LinearExpr, int]]:
        """What is minimised, in order, and the unit in which it is counted here."""
        problem, grain = self.scaled.problem, self.scaled.grain
        for number, size in enumerate(problem.sizes):
            of_class = [k for k, d in enumerate(problem.demands) if d.priority_class == number]
            yield size - self.sum([self.served[k] for k in of_class]), 1
        by: dict[Goal, tuple[cp_model.LinearExpr, int]] = {
            "blocks": (self.sum(self.blocks), 1),
            "largest": (self.largest + 0, grain),
            "total": (self.sum(self.errors), grain),
        }
        yield from (by[goal] for goal in goals_of(problem)[len(problem.sizes) :])

    def start_from(self, plan: Plan) -> None:
        """Let the next search begin with a plan."""
        # Otherwise the hints of the previous search would be kept beside the new ones.
        self.model.clear_hints()  # type: ignore[no-untyped-call]  # has no type information
        hints = list(self._hints(plan))
        # All at once: one by one, those of a large shelf take longer than some searches are
        # allowed.
        hint = self.model.proto.solution_hint
        hint.vars.extend([variable.index for variable, _ in hints])
        hint.values.extend([value for _, value in hints])

    def _hints(self, plan: Plan) -> Iterator[tuple[cp_model.IntVar, int]]:
        for demand, stack in enumerate(plan):
            counts = Counter(self.scaled.kind_of[piece] for piece in stack or ())
            yield self.served[demand], int(stack is not None)
            for kind, use in self.uses(demand).items():
                yield use, counts[kind]

    def plan(self, solver: cp_model.CpSolver) -> Plan:
        """The plan of the solver's last solution."""
        # Read at once, for the same reason.
        values: list[int] = list(solver.response_proto.solution)  # pyright: ignore[reportUnknownArgumentType, reportUnknownMemberType] -- untyped
        return self.scaled.plan(
            [
                {kind: values[use.index] for kind, use in self.uses(demand).items()}
                if values[served.index]
                else None
                for demand, served in enumerate(self.served)
            ]
        )


def _weighted(variables: Sequence[cp_model.IntVar], by: Sequence[int]) -> cp_model.LinearExpr:
    return cp_model.LinearExpr.weighted_sum(variables, by)  # pyright: ignore[reportUnknownMemberType] -- untyped lists
