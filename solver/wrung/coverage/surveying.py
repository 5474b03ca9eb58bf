"""The survey: from an inventory and a grid to what it covers, within a time limit."""

from collections.abc import Collection, Sequence
from contextlib import suppress

from wrung.answers import Wanted
from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.coverage.additions import additions
from wrung.coverage.answer import Additions, Coverage, LengthGrid, Loss, Reach, Surveyed
from wrung.coverage.losses import losses
from wrung.coverage.places import reach
from wrung.coverage.question import Question, build_question
from wrung.deadline import Cancel, Deadline, limits
from wrung.subset_sums import Counts, OutOfTimeError, nothing, put_all
from wrung.targets.requirement import WearBlocks


@typed
def coverage_of(  # noqa: PLR0913 -- the options of a survey, all with defaults
    blocks: Sequence[Block],
    grid: LengthGrid,
    *,
    max_blocks: int | None = None,
    wear_blocks: WearBlocks = "none",
    exclude: Collection[str] = (),
    only: Collection[str] | None = None,
    offers: Sequence[Wanted] | None = None,
    max_runs: int = 1000,
    max_gaps: int = 100,
    time_limit_ms: float = 10_000,
    cancel: Cancel | None = None,
) -> Coverage:
    """Which lengths of a grid can be built, each by itself, and what that depends on.

    Nominal lengths alone count: no deviations, no errors. Each length is asked for with every
    block free; that one stack can be built says nothing of two at once, see `wrung.solve`.

    Args:
        blocks: the blocks on the shelf; lengths in quanta of 0.01 nm, see `wrung.mm`, `wrung.inch`.
        grid: the lengths to look at, 2 000 000 at most.
        max_blocks: maximum number of blocks in a stack, wear blocks included; 250 by default and at
            most.
        wear_blocks: how many ends of each stack carry a wear block.
        exclude: ids of blocks to leave out.
        only: if given, ids of the only blocks to use.
        offers: blocks to buy or borrow, each once; one given twice is there twice. If left out,
            what `wrung.solve` would add, too: the members that the composition closest to each set
            has and the set lacks, one more of each length on the shelf, and wear blocks where the
            stacks have some; 1000 at most, and none that would need a step too fine.
        max_runs: how many runs are written out, at most.
        max_gaps: how many gaps are written out, at most.
        time_limit_ms: for the whole call, ms. When it ends, what is settled is the answer.
        cancel: ends the work from another thread; what is settled is the answer.

    Returns:
        What can be built; what is lost without each block; which blocks would help most.

    Raises:
        InputError: the input contradicts itself, or makes too many points or sums; it holds every
            fault with its pointer, that of the grid under ``/range``.
    """
    deadline = limits(time_limit_ms, cancel)
    question = build_question(
        blocks,
        grid,
        max_blocks=max_blocks,
        wear_blocks=wear_blocks,
        exclude=exclude,
        only=only,
        offers=offers,
    )
    sums: Counts | None = None
    lost: tuple[Loss, ...] | None = None
    added: Additions | None = None
    # What is there when the time ends is the answer.
    with suppress(OutOfTimeError):
        sums = _sums(question, deadline)
        lost = losses(question, question.places.of(sums), deadline)
        added = additions(question, sums, deadline)
    found: Reach | None = None
    if sums is not None:
        fewest = question.places.spread(question.places.of(sums))
        found = reach(grid, fewest, question.most, max_runs=max_runs, max_gaps=max_gaps)
    return Coverage(
        outcome=_outcome(sums, added),
        grid=grid,
        max_blocks=question.most,
        reach=found,
        losses=lost,
        additions=added,
        solve_ms=deadline.elapsed_ms,
    )


def _sums(question: Question, deadline: Deadline) -> Counts:
    """The sums of all the blocks.

    Raises:
        OutOfTimeError: the deadline passed, and a little more time was not enough, either.
    """
    layers, top = question.wear_count + 1, question.top
    try:
        return put_all(nothing(layers, top), question.kinds, deadline)
    except OutOfTimeError:
        # A machine that stood still for the whole limit must not make a small survey unknown.
        return put_all(nothing(layers, top), question.kinds, deadline.late())


def _outcome(sums: Counts | None, added: Additions | None) -> Surveyed:
    if sums is None:
        return "unknown"
    return "complete" if added is not None and added.best_pair_proven else "partial"
