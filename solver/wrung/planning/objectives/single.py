"""The best stack of a single demand, number by number.

The same as `alone.each_alone` finds, by the same tables, in about half the time: for one stack,
arrays have one or a few elements, and Numpy takes as long for one as for a hundred. Where many
stacks come into question, it gives up.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import islice

from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.assignment import assigned
from wrung.planning.candidates.goals import before_errors, first_window
from wrung.planning.candidates.grids import lay_out
from wrung.planning.candidates.layout import Layout, Level
from wrung.planning.candidates.starts import beginning, ends_of
from wrung.planning.candidates.stock import NEVER, Cells, Ints, Stock
from wrung.planning.candidates.supply import Tables
from wrung.planning.candidates.tables import Table
from wrung.planning.candidates.workbench import FREE
from wrung.planning.finding import Finding, Plan, found_best
from wrung.planning.problem import Problem, error_of


def single(problem: Problem, stock: Stock, deadline: Deadline) -> Finding | None:
    """The best stack of the only demand; None where this does not find it quickly."""
    demand, *others = problem.demands
    if others or not stock.gauges:
        return None
    tuning = deadline.tuning
    layout, few = lay_out(stock, demand.high, deadline), tuning.most_partial_single
    step, *grids = layout.steps
    if grids:
        return None
    starts = [*islice(_starts(problem, stock, step), few + 1)]
    if not 0 < len(starts) <= few or _differ(problem, stock, starts):
        return None
    plan = _Single(problem, stock, layout, starts, deadline).cheapest()
    return None if plan is None else found_best(problem, plan)


class _Start(Struct, frozen=True, gc=False):
    """A way to begin, as in `Starts`; ``kinds`` are those of its wear pieces and its step."""

    steps: int
    burden: int
    offset: int
    kinds: tuple[int, ...]


def _starts(problem: Problem, stock: Stock, step: int) -> Iterator[_Start]:
    for ends in ends_of(stock, problem.demands[0]):
        _, low, high, _, burden, offset = beginning(problem, stock, 0, ends)
        kinds = tuple(kind for kind in ends if kind < stock.bodies)
        for steps in range(-(-low // step), high // step + 1):
            off = offset if problem.measure.corrected else offset + steps * step
            yield _Start(steps, burden, off, kinds)


def _differ(problem: Problem, stock: Stock, starts: Sequence[_Start]) -> bool:
    """Whether one sum does not bound errors well: then many stacks seem as good as the best."""
    if not stock.deviates:
        return False
    exact = not any(start.offset for start in starts)
    return stock.squares or not exact or problem.objective == "least_error"


class _Part(Struct, frozen=True, gc=False):
    """A partial stack.

    Attributes:
        start: how it begins.
        rest: what it still needs, in steps of the level.
        room: what the rest may cost.
        kinds: of its gauge pieces, the last one first.
        place: the first item of the level that may come next.
    """

    start: _Start
    rest: int
    room: int
    kinds: tuple[int, ...] = ()
    place: int = 0


class _Single:
    """The search: what `Search` does, with one demand and one side of the goal (see `goals`)."""

    def __init__(
        self,
        problem: Problem,
        stock: Stock,
        layout: Layout,
        starts: Sequence[_Start],
        deadline: Deadline,
    ) -> None:
        self._problem, self._stock, self._layout = problem, stock, layout
        self._starts, self._deadline, self._tuning = starts, deadline, deadline.tuning
        self._weight = self._weight_of_blocks()

    def _weight_of_blocks(self) -> int:
        if self._problem.objective != "fewest_blocks":
            return 0
        most_off, most_burdens = self._stock.most_off, self._stock.most_burdens
        error = self._problem.measure.error
        worst = (
            error(most_off + abs(s.offset), most_burdens + abs(s.burden)) for s in self._starts
        )
        return before_errors(max(worst))

    def cheapest(self) -> Plan | None:
        """The best of all stacks in ever wider windows above what any costs at least."""
        reach = (max(start.steps for start in self._starts),)
        if self._layout.cells(reach) > self._tuning.most_cells:
            return None
        costs: Ints = (self._stock.burdens + self._weight)[None, self._layout.kinds]
        table = Tables(self._layout, reach, self._deadline).of(costs, lasting=True)
        if table.cut:
            return None
        spent = [self._spent(start) for start in self._starts]
        least = [
            cost + table.least_of(start.steps)
            for start, cost in zip(self._starts, spent, strict=True)
        ]
        floor, window = min(least), first_window(self._stock)
        for _ in range(self._tuning.most_windows_single):
            if floor + window >= FREE:
                break
            front = [
                _Part(start, start.steps, min(floor + window - cost, table.most))
                for start, cost, below in zip(self._starts, spent, least, strict=True)
                if below <= floor + window
            ]
            stacks = self._completed(table, front)
            if stacks is None:
                return None
            if found := [e for e in map(self._judged, stacks) if e[0] <= floor + window]:
                return min(found, key=lambda each: each[:2])[2]
            # As in `Search.cheapest`.
            window += window // 2 + abs(floor) // 32 + 1
        return None

    def _spent(self, start: _Start) -> int:
        """What it costs at least, before the first gauge piece."""
        begun = start.burden + self._weight * len(start.kinds)
        # Without deviations no piece changes the offset, so the whole error is known.
        exact = not self._stock.deviates
        return self._problem.measure.error(start.offset, begun) if exact else begun

    def _judged(self, part: _Part) -> tuple[int, int, Plan]:
        """Cost, number of blocks, and the plan."""
        problem, kinds = self._problem, Counter(part.kinds + part.start.kinds)
        plan = assigned(problem, [kinds], self._stock.pieces)
        stack = plan[0] or ()
        error, demand = error_of(problem, 0, stack), problem.demands[0]
        kept = len(stack) <= demand.most and demand.allows(error)
        return self._weight * len(stack) + error if kept else NEVER, len(stack), plan

    def _completed(self, table: Table, parts: list[_Part]) -> list[_Part] | None:
        """All stacks within their rooms, in the order of `Walk`; None if they are not few."""
        step = 1
        for level, cells in zip(self._layout.levels, table.by_next, strict=True):
            ratio, step = level.step // step, level.step
            front = [_Part(p.start, p.rest // ratio, p.room, p.kinds) for p in parts]
            items, parts = level.last - level.first, []
            while front:
                # Item by item, as a matrix of items by partial stacks is read.
                ways = [
                    (item, row)
                    for row, part in enumerate(front)
                    for item in _following(level, cells, part, self._tuning.short_column)
                ]
                ways.sort()
                parts += [front[row] for item, row in ways if item == items]
                front = [self._longer(table, level, front[row], i) for i, row in ways if i < items]
                if len(front) + len(parts) > self._tuning.most_partial_single:
                    return None
        return parts

    def _longer(self, table: Table, level: Level, part: _Part, item: int) -> _Part:
        """With this item on top."""
        own = level.first + item
        return _Part(
            part.start,
            part.rest - level.lengths.item(item),
            part.room - table.costs.item(0, own),
            (self._layout.kinds.item(own), *part.kinds),
            item + 1,
        )


def _following(level: Level, cells: Cells, part: _Part, short: int) -> list[int]:
    """Items that may come next; the one after the last passes the level."""
    column = cells[part.place :, part.rest]
    if len(column) < short:
        near = [item for item, cell in enumerate(column.tolist(), part.place) if cell <= part.room]
    else:
        near = ((column <= part.room).nonzero()[0] + part.place).tolist()
    return [item for item in near if level.follows.item(item, part.place)]
