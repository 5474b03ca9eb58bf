"""The stacks to choose from, and what the room that other stacks leave allows of them."""

from collections.abc import Callable
from typing import Final

import numpy as np

from wrung.planning.candidates.stock import NEVER, Bools, Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.problem import StepsInTurn
from wrung.planning.succession.counting import Step, counted
from wrung.planning.succession.paths import Path, shortest_path
from wrung.planning.succession.steps import Room, Ways, ways

_ANY: Final = NEVER


BYTES_A_USE: Final = 16
"""For each candidate and kind: counts, places, and comparing them."""


class Pool:
    """Candidates of every demand of a workbench, those of a plan among them.

    Attributes:
        bench: what they are for.
        candidates: one a row.
        uses: how many pieces of each kind each of them uses.
    """

    def __init__(self, bench: Workbench, candidates: Candidates) -> None:
        self.bench = bench
        self.candidates = candidates
        self.uses = counted(candidates, len(bench.stock.nominals))

    def least(self) -> int:
        """No plan changes fewer blocks: each sequence as if it had the shelf to itself."""
        return sum(self._alone(sequence) for sequence in self.bench.problem.sequences)

    def beside(self, sequence: StepsInTurn, rows: Ints) -> tuple[Ints, Path | None]:
        """The rows with the best path of a sequence beside the other stacks, and that path.

        None of its steps is worse than as it stood there; ``rows`` has one a demand. Without a
        path nothing changes: the ways are too many, or the time is up.
        """
        # No stack may err more than the plan's largest does.
        allowed = self.candidates.errors <= self.candidates.errors[rows].max()
        steps = self._ways(sequence, allowed, lambda step: self._room(step, rows))
        path = None if steps is None else shortest_path(steps, self.bench.deadline)
        if steps is None or path is None:
            return rows, None
        better = rows.copy()
        for step, own, place in zip(sequence, steps, path.places, strict=True):
            better[list(step)] = own.rows[place]
        return better, path

    def rows_of(self, plan: Candidates) -> Ints:
        """Where the stacks of a plan, one for each demand in order, stand among the candidates."""
        uses = counted(plan, self.uses.shape[1])
        # Comparing each kind is only worth it where the number of pieces agrees.
        alike = np.flatnonzero(self.candidates.counts == plan.counts[self.candidates.demands])
        same = np.zeros(len(self.candidates), np.bool_)
        same[alike] = (self.uses[alike] == uses[self.candidates.demands[alike]]).all(axis=1)
        _, first = np.unique(self.candidates.demands[same], return_index=True)
        rows: Ints = np.flatnonzero(same)[first]
        return rows

    def _alone(self, sequence: StepsInTurn) -> int:
        everything = np.ones(len(self.candidates), np.bool_)
        room = Room(
            blocks=_ANY,
            errors=_ANY,
            capacities=self.bench.stock.capacities,
            tuning=self.bench.deadline.tuning,
        )
        steps = self._ways(sequence, everything, lambda _: room)
        path = None if steps is None else shortest_path(steps, self.bench.deadline)
        # Changes may all lie where the ways are too many to be looked at.
        return 0 if path is None else path.changes

    def _ways(
        self, sequence: StepsInTurn, allowed: Bools, room: Callable[[Step], Room]
    ) -> list[Ways] | None:
        """By step; None if there are too many for some step, or the time is up."""
        found: list[Ways] = []
        for step in sequence:
            if self.bench.deadline.passed:
                return None
            own = ways(step, self.candidates, self.uses, allowed, room(step))
            if own is None:
                return None
            found.append(own)
        return found

    def _room(self, step: Step, rows: Ints) -> Room:
        # No worse step by step, so that the plan as a whole is no worse either.
        own = rows[list(step)]
        return Room(
            blocks=int(self.candidates.counts[own].sum()),
            errors=int(self.candidates.errors[own].sum()),
            capacities=self.bench.stock.capacities - self._taken(step, rows),
            tuning=self.bench.deadline.tuning,
        )

    def _taken(self, step: Step, rows: Ints) -> Ints:
        """By kind the most that others hold at one time while the step is needed."""
        taken = np.zeros(self.uses.shape[1], np.int64)
        for clique in self.bench.problem.cliques:
            if not set(step).isdisjoint(clique):
                others = [other for other in clique if other not in step]
                # Each is a time of its own: the one that takes most counts, not all together.
                taken = np.maximum(taken, self.uses[rows[others]].sum(axis=0))
        return taken
