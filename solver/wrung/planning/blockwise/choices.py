"""The variables of the direct model, and what they say about a plan."""

from collections import Counter
from collections.abc import Iterator, Sequence

from ortools.sat.python import cp_model

from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.candidates.quota import Counts
from wrung.planning.finding import Plan
from wrung.planning.selection.choice import QuickModel


class Choices:
    """Which demands are served, and how many pieces of each kind stand in each stack.

    Attributes:
        model: what the rules add to.
        served: per demand, whether it has a stack.
        blocks: per demand, how many blocks its stack has.
        errors: per demand, its worst-case error or more, grains.
        largest: the largest of them or more, grains.
    """

    def __init__(self, scaled: Scaled) -> None:
        self._scaled = scaled
        self._worst = scaled.worst
        self._uses: list[dict[int, cp_model.IntVar]] = []
        self._beyond: list[cp_model.LinearExpr] = []
        # With its aliases it would refer to itself, and be freed only later by the garbage
        # collector.
        self.model = QuickModel()
        self.served: list[cp_model.IntVar] = []
        self.blocks: list[cp_model.IntVar] = []
        self.errors: list[cp_model.IntVar] = []
        self._asked: tuple[cp_model.Constraint, ...] = ()
        self._kind_of = {p: index for index, kind in enumerate(scaled.kinds) for p in kind.pieces}
        self.largest = self.model.new_int_var(0, self._worst, "")

    @property
    def size(self) -> int:
        """How many variables the model has."""
        return len(self.model.proto.variables)  # pyright: ignore[reportUnknownArgumentType, reportUnknownMemberType] -- untyped

    def open(self) -> Iterator[None]:
        """Make the variables, demand by demand."""
        for demand, wanted in enumerate(self._scaled.problem.demands):
            self.served.append(self.model.new_bool_var(""))
            self.blocks.append(self.model.new_int_var(0, wanted.most, ""))
            self.errors.append(self.model.new_int_var(0, self._worst, ""))
            self._uses.append({kind: self._use(kind) for kind in self._scaled.usable(demand)})
            self._beyond.append(self._past_first(demand))
            yield

    def uses(self, demand: int) -> Iterator[tuple[int, cp_model.IntVar]]:
        """The kinds that may be in a stack, and how many pieces of each are."""
        yield from self._uses[demand].items()

    def use(self, demand: int, kind: int) -> cp_model.IntVar | None:
        """How many pieces of the kind stand in the stack; None where none may."""
        return self._uses[demand].get(kind)

    def most(self, kind: int) -> int:
        """How many pieces of the kind there are."""
        return len(self._scaled.kinds[kind].pieces)

    def used(self, demand: int, kind: int) -> cp_model.IntVar:
        """1 where pieces of the kind stand in the stack."""
        use, count = self._uses[demand][kind], len(self._scaled.kinds[kind].pieces)
        if count == 1:
            return use
        used = self.model.new_bool_var("")
        self.model.add(use <= count * used)
        return used

    def total(self, demand: int, of: Sequence[int]) -> cp_model.LinearExpr:
        """The sum over the stack's pieces of a figure given per kind."""
        uses = self._uses[demand]
        return _weighted(list(uses.values()), [of[kind] for kind in uses])

    def length(self, demand: int) -> cp_model.LinearExpr:
        """The stack's nominal length, steps; 0 where there is none."""
        return self._scaled.windows[demand].start * self.served[demand] + self._beyond[demand]

    def beyond(self, demand: int) -> cp_model.LinearExpr:
        """By how much it is longer than the first length of the window, steps."""
        return self._beyond[demand]

    def off(self, demand: int) -> cp_model.LinearExpr:
        """How far its nominal length is from the target, grains; 0 where there is none."""
        # A window of one length has no further steps, and the grain need not divide one.
        stride = self._scaled.stride if len(self._scaled.windows[demand]) > 1 else 0
        first = self._scaled.offset(demand) * self.served[demand]
        return first + stride * self._beyond[demand]

    def sum(self, variables: Sequence[cp_model.IntVar]) -> cp_model.LinearExpr:
        """The sum of some of them."""
        return _weighted(variables, [1] * len(variables))

    def at_least(
        self, total: cp_model.IntVar, least: cp_model.LinearExprT, when: cp_model.IntVar
    ) -> None:
        """Make a variable at least this large where the variable ``when``, 0 or 1, is 1."""
        constraint = self.model.add(total >= least)
        constraint.only_enforce_if(when)  # pyright: ignore[reportUnknownMemberType] -- untyped lists

    def equal(self, total: cp_model.LinearExpr, value: int, when: cp_model.IntVar) -> None:
        """Make a sum equal to this where the variable ``when``, 0 or 1, is 1."""
        constraint = self.model.add(total == value)
        constraint.only_enforce_if(when)  # pyright: ignore[reportUnknownMemberType] -- as above

    def other(self, use: cp_model.IntVar, value: int) -> cp_model.IntVar:
        """A variable that can be 1 only where the other one has another value."""
        other = self.model.new_bool_var("")
        constraint = self.model.add(use != value)
        constraint.only_enforce_if(other)  # pyright: ignore[reportUnknownMemberType] -- as above
        return other

    def served_of(self, priority_class: int) -> cp_model.LinearExpr:
        """How many demands of a class are served."""
        demands = self._scaled.problem.demands
        return self.sum(
            [self.served[k] for k, d in enumerate(demands) if d.priority_class == priority_class]
        )

    def serve_at_least(self, counts: Counts) -> None:
        """Require this many stacks of each class; if called again, only the last call counts."""
        if not self._asked:
            self._asked = tuple(
                self.model.add(self.served_of(k) >= count) for k, count in enumerate(counts)
            )
        # Changed in place: a second constraint would leave the first one in force.
        for asked, count in zip(self._asked, counts, strict=True):
            asked.proto.linear.domain[0] = count  # pyright: ignore[reportUnknownMemberType] -- untyped

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
            counts = Counter(self._kind_of[piece] for piece in stack or ())
            yield self.served[demand], int(stack is not None)
            for kind, use in self.uses(demand):
                yield use, counts[kind]

    def plan(self, solver: cp_model.CpSolver) -> Plan:
        """The plan of the solver's last solution."""
        # Read at once, for the same reason.
        values: list[int] = list(solver.response_proto.solution)  # pyright: ignore[reportUnknownArgumentType, reportUnknownMemberType] -- untyped
        counts = [self._stack(values, demand) for demand in range(len(self.served))]
        return self._scaled.plan(counts)

    def _stack(self, values: Sequence[int], demand: int) -> dict[int, int] | None:
        if not values[self.served[demand].index]:
            return None
        return {kind: values[use.index] for kind, use in self.uses(demand)}

    def _use(self, kind: int) -> cp_model.IntVar:
        count = len(self._scaled.kinds[kind].pieces)
        return self.model.new_int_var(0, count, "")

    def _past_first(self, demand: int) -> cp_model.LinearExpr:
        room = len(self._scaled.windows[demand]) - 1
        if room < 1:
            return cp_model.LinearExpr.constant(0)
        beyond = self.model.new_int_var(0, room, "")
        # Where there is no stack it is 0, or its length would not be.
        self.model.add(beyond <= room * self.served[demand])
        return beyond


def _weighted(variables: Sequence[cp_model.IntVar], by: Sequence[int]) -> cp_model.LinearExpr:
    return cp_model.LinearExpr.weighted_sum(variables, by)  # pyright: ignore[reportUnknownMemberType] -- untyped lists
