"""The main job: from blocks and targets to an answer, within a time limit."""

from collections.abc import Collection, Sequence

from wrung.answers import Answer, Objective
from wrung.blocks import DEFAULT_JOINT_ALLOWANCE, Block
from wrung.checked_types import typed
from wrung.deadline import Cancel, Deadline, limits
from wrung.memory import DEFAULT_MEMORY_MB
from wrung.metrology.error_measure import WORST_CASE, ErrorMeasure, RequiredRatio
from wrung.order import Order
from wrung.planning.execution import answered
from wrung.preferences import Preference
from wrung.targets import Target


@typed
def solve(  # noqa: PLR0913 -- the options of the main job, all with defaults
    blocks: Sequence[Block],
    targets: Sequence[Target],
    *,
    objective: Objective = "fewest_blocks",
    joint_allowance: int = DEFAULT_JOINT_ALLOWANCE,
    exclude: Collection[str] = (),
    only: Collection[str] | None = None,
    overdue: Collection[str] = (),
    error_measure: ErrorMeasure = WORST_CASE,
    required_ratios: Sequence[RequiredRatio] = (),
    preferences: Sequence[Preference] = (),
    time_limit_ms: float = 2000,
    memory_limit_mb: float = DEFAULT_MEMORY_MB,
    cancel: Cancel | None = None,
) -> Answer:
    """Plan stacks for all targets side by side; of several plans the best by the objective.

    As many stacks as possible are served first. ``fewest_blocks`` then compares the total number
    of blocks, the largest worst-case error of a stack, and the total of these errors;
    ``least_error`` the largest error, the total error, and the number of blocks. Another
    ``error_measure`` puts its figure in the place of the worst-case error; the answer then says in
    ``compared`` what was compared and what is proven of it, and still gives worst-case errors.
    Of plans that are as good, one is chosen whose stacks change few blocks where they follow one
    another; what is proven of that is in ``changes`` of the answer.
    Angle blocks are planned likewise, each case by itself; their plans are in ``cases``.

    Args:
        blocks: the blocks on the shelf; lengths in quanta of 0.01 nm, see `wrung.mm`, `wrung.inch`.
            The same `wrung.Blocks` again save what depends on the shelf alone.
        targets: what must be built. Where ``guard_by_uncertainty`` is set, the guard band is as
            stated all the same: `wrung.solve_with_guard_bands` finds it.
        objective: what makes a plan the best one.
        joint_allowance: what one wrung joint adds to the worst-case error, quanta.
        exclude: ids of blocks to leave out.
        only: if given, ids of the only blocks to use.
        overdue: ids of blocks to leave out as overdue for calibration, see
            `wrung.metrology.sort_by_due`; if a stack would need them, the answer says so.
        error_measure: the measure by which errors of stacks are compared.
        required_ratios: how much better than a tolerance stacks must be, by that measure; a stack
            that is not counts as none. Blocks that a `Shortage` would add have then a `most_error`.
        preferences: goals after all these, in order, as to spread wear; what is proven of each is
            in ``preferences`` of the answer. They are about blocks of length.
        time_limit_ms: for the whole call, ms. When it ends, the best plan found is the answer.
        memory_limit_mb: the most memory that the search may hold at any time, MB; if it would need
            more, the best plan found within the limit is the answer.
        cancel: ends the search from another thread; the best plan found is the answer.

    Returns:
        The plan, what is proven of it, and why a target has no stack. "Cannot be built" and "out
        of time" are outcomes, not exceptions.

    Raises:
        InputError: the input contradicts itself; it holds every fault with its pointer.
    """
    search_by = limits(time_limit_ms, cancel, memory_limit_mb)
    order = Order(
        blocks=blocks,
        targets=targets,
        objective=objective,
        joint_allowance=joint_allowance,
        exclude=exclude,
        only=only,
        overdue=overdue,
        error_measure=error_measure,
        required_ratios=required_ratios,
        preferences=preferences,
    )
    whole_ms = search_by.whole_ms * (1 + search_by.tuning.overtime)
    # One `Cancel` for both: whoever cancels wants no explanation to go on, either.
    answer_by = Deadline(
        whole_ms, search_by.cancel, search_by.memory, search_by.tuning, search_by.stages
    )
    return answered(order, search_by, answer_by)
