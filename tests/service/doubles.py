"""Solvers for tests: one holds still until told, one has a fault, one is wrong."""

# ruff: noqa: ARG002 - each takes what `wrung.solve` takes, and looks at what it needs

import threading
from collections.abc import Collection, Sequence

import msgspec

import wrung
from patience import PATIENCE_S
from wrung import Answer, Block, Bounds, Cancel, Diagnostics, Objective, Target, Unmet
from wrung.memory import DEFAULT_MEMORY_MB
from wrung.metrology import WORST_CASE, ErrorMeasure, RequiredRatio
from wrung.preferences import Preference


def undecided(targets: Sequence[Target], objective: Objective = "fewest_blocks") -> Answer:
    """The answer of a search whose time ended before it found anything."""
    return Answer(
        outcome="unknown",
        proven=False,
        objective_proven=False,
        objective=objective,
        total_blocks=0,
        largest_worst_case_error=0,
        total_worst_case_error=0,
        bounds=Bounds(served=len(targets)),
        unmet=tuple(Unmet(target=target.ref, reason="not_decided") for target in targets),
        solve_ms=1.0,
        diagnostics=Diagnostics(),
    )


class Solver:
    """Base of the doubles: answers that nothing was decided."""

    def __init__(self) -> None:
        self.calls: list[float] = []
        self.cancels: list[Cancel] = []

    def __call__(  # noqa: PLR0913 - the options of `wrung.solve`
        self,
        blocks: Sequence[Block],
        targets: Sequence[Target],
        *,
        objective: Objective,
        joint_allowance: int,
        exclude: Collection[str],
        only: Collection[str] | None,
        overdue: Collection[str] = (),
        error_measure: ErrorMeasure = WORST_CASE,
        required_ratios: Sequence[RequiredRatio] = (),
        preferences: Sequence[Preference] = (),
        time_limit_ms: float,
        memory_limit_mb: float = DEFAULT_MEMORY_MB,
        cancel: Cancel | None,
    ) -> Answer:
        """Note the call and answer."""
        self.calls.append(time_limit_ms)
        self.cancels.append(cancel or Cancel())
        return self.answer(blocks, targets, objective)

    def answer(
        self, blocks: Sequence[Block], targets: Sequence[Target], objective: Objective
    ) -> Answer:
        """The answer."""
        return undecided(targets, objective)


class Blocking(Solver):
    """Searches until it is released or told to end."""

    def __init__(self) -> None:
        super().__init__()
        self.begun = threading.Semaphore(0)
        self.ended = threading.Semaphore(0)
        self.released = threading.Event()

    def answer(
        self, blocks: Sequence[Block], targets: Sequence[Target], objective: Objective
    ) -> Answer:
        """Wait; then nothing was decided."""
        with self.cancels[-1].stopping(self.released.set):
            self.begun.release()
            assert self.released.wait(PATIENCE_S)
        self.ended.release()
        return undecided(targets, objective)


class Decided(Blocking):
    """The same, and then really solves."""

    def answer(
        self, blocks: Sequence[Block], targets: Sequence[Target], objective: Objective
    ) -> Answer:
        """Wait, then the plan."""
        super().answer(blocks, targets, objective)
        return wrung.solve(blocks, targets, objective=objective, joint_allowance=0)


class Failing(Solver):
    """Has a fault, and says in its message what nobody should read."""

    def answer(
        self, blocks: Sequence[Block], targets: Sequence[Target], objective: Objective
    ) -> Answer:
        """Fail."""
        raise RuntimeError(f"secret {blocks[0].id}")


class Boasting(Solver):
    """Gives the right stacks, and claims more of them than is so."""

    def answer(
        self, blocks: Sequence[Block], targets: Sequence[Target], objective: Objective
    ) -> Answer:
        """A plan of two blocks, said to be proven, of which none has fewer than three."""
        answer = wrung.solve(blocks, targets, objective=objective, joint_allowance=0)
        bounds = msgspec.structs.replace(answer.bounds, total_blocks=answer.total_blocks + 1)
        return msgspec.structs.replace(answer, bounds=bounds)


class Wrong(Solver):
    """Gives the right answer but for one figure."""

    def answer(
        self, blocks: Sequence[Block], targets: Sequence[Target], objective: Objective
    ) -> Answer:
        """A stack said to be better than it is."""
        answer = wrung.solve(blocks, targets, objective=objective, joint_allowance=0)
        stack = msgspec.structs.replace(answer.stacks[0], worst_case_error=1)
        return msgspec.structs.replace(answer, stacks=(stack, *answer.stacks[1:]))
