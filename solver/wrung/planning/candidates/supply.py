"""The tables of one search: made on demand, and kept as long as there is room."""

from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.layout import Layout, Reach
from wrung.planning.candidates.stock import Ints
from wrung.planning.candidates.tables import (
    TABLES,
    Table,
    build_table,
    cut_table,
    table_bytes,
    table_key,
)


class Tables:
    """Tables of a layout, by their costs; those in use are never dropped."""

    def __init__(self, layout: Layout, reach: Reach, deadline: Deadline) -> None:
        self._layout = layout
        self._reach = reach
        self._deadline = deadline
        self._memory = deadline.memory
        self._shelf = self._memory.shelf()

    def of(self, costs: Ints, *, lasting: bool) -> Table:
        """The table of those costs by way and item; `Table.cut` without time or room for it.

        One that is ``lasting`` depends on the inventory alone, and serves later searches; it has
        one way to cost the items.
        """
        layout, reach, memory = self._layout, self._reach, self._memory
        key = (*table_key(layout, costs), reach)
        table: Table | None = memory.alive(key)
        if table is None:
            size = table_bytes(layout, costs, reach)
            if not memory.room(size):
                return cut_table(costs, reach)
            if lasting:
                table = TABLES.get(layout, costs[0], reach, self._deadline)
            else:
                table = build_table(layout, costs, reach, self._deadline)
            if table.cut:
                return table
            # A copy that shares the cells, so that a cached table is counted as long as it is used.
            table = memory.hold(replace(table), size, key)
        self._shelf.keep(key, table)
        return table
