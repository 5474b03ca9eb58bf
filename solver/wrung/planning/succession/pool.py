"""The stacks to choose from, and what the room that other stacks leave allows of them."""

from collections.abc import Sequence

import numpy as np

from wrung.planning.candidates.stock import Bools, Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.succession.kept import counted, places
from wrung.planning.succession.paths import Path, shortest_path


class Pool:
    """Candidates of every demand of a workbench, those of a plan among them.

    Attributes:
        bench: what they are for.
        candidates: one a row.
        used: what each of them uses, see `kept.places`.
    """

    def __init__(self, bench: Workbench, candidates: Candidates) -> None:
        self.bench = bench
        self.candidates = candidates
        self._uses = counted(candidates, len(bench.stock.nominals))
        self.used = places(self._uses)

    def least(self) -> int:
        """No plan changes fewer blocks: each sequence as if it had the shelf to itself."""
        everything = np.ones(len(self.candidates), np.bool_)
        return sum(self._path(s, everything).changes for s in self.bench.problem.sequences)

    def beside(self, sequence: Sequence[int], rows: Ints) -> Ints:
        """The rows with the best path of a sequence beside the other stacks.

        None of its stacks is worse than the one that stood there; ``rows`` has one a demand.
        """
        better = rows.copy()
        better[list(sequence)] = self._path(sequence, self._allowed(sequence, rows)).rows
        return better

    def rows_of(self, plan: Candidates) -> Ints:
        """Where the stacks of a plan, one for each demand in order, stand among the candidates."""
        uses = counted(plan, self._uses.shape[1])
        same = (self._uses == uses[self.candidates.demands]).all(axis=1)
        _, first = np.unique(self.candidates.demands[same], return_index=True)
        rows: Ints = np.flatnonzero(same)[first]
        return rows

    def _path(self, sequence: Sequence[int], allowed: Bools) -> Path:
        own = self.candidates.demands
        layers = [np.flatnonzero(allowed & (own == demand)) for demand in sequence]
        return shortest_path(layers, self.used, self.candidates.counts)

    def _allowed(self, sequence: Sequence[int], rows: Ints) -> Bools:
        """No worse than the rows that stand there, and with what others leave of the shelf."""
        found = self.candidates
        # No worse stack by stack, so that the plan as a whole is no worse either.
        allowed = found.counts <= found.counts[rows][found.demands]
        allowed &= found.errors <= found.errors[rows][found.demands]
        for demand in sequence:
            own = found.demands == demand
            left = self.bench.stock.capacities - self._taken(demand, rows)
            allowed[own] &= (self._uses[own] <= left).all(axis=1)
        return allowed

    def _taken(self, demand: int, rows: Ints) -> Ints:
        """By kind the most that others hold at one time while the demand is needed."""
        taken = np.zeros(self._uses.shape[1], np.int64)
        for crowd in self.bench.problem.crowds:
            if demand in crowd:
                others = [other for other in crowd if other != demand]
                # Each crowd is a time of its own: the one that takes most counts, not all together.
                taken = np.maximum(taken, self._uses[rows[others]].sum(axis=0))
        return taken
