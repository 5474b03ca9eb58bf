"""Limits on the cost of a stack, in the order in which a ranking asks for all within them."""

from collections.abc import Iterator

from msgspec import Struct

from wrung.planning.candidates.goals import (
    block_before_errors,
    error_goal,
    first_window,
    worst_error,
)
from wrung.planning.candidates.search import Search
from wrung.planning.candidates.workbench import FREE, Workbench
from wrung.planning.problem import Demand, Piece


class Span(Struct, frozen=True, kw_only=True):
    """Costs from the first that a stack may have to the last that is asked for."""

    least: int
    most: int


def rising_limits(bench: Workbench, floor: int) -> Iterator[int]:
    """Rising limits, the last of which every stack keeps to; no stack costs less than floor.

    Where blocks count first, the costs of stacks lie in spans, one for each number of blocks, with
    nothing between them.
    """
    first = first_window(bench.stock) + 1
    for span in _spans(bench, floor):
        window = first
        while span.least + window < span.most:
            yield span.least + window
            window = bench.deadline.tuning.steepness * window
        yield span.most


def _spans(bench: Workbench, floor: int) -> Iterator[Span]:
    worst = worst_error(bench.stock, bench.starts)
    if bench.problem.objective == "least_error":
        yield Span(least=floor, most=max(worst, floor))
        return
    error = error_goal(bench.stock, bench.starts)
    least = int(Search(bench, error, bench.no_prices()).floors()[0])
    block = block_before_errors(bench.stock, bench.starts)
    for count in range(floor // block, _most_blocks(bench) + 1):
        base = count * block
        yield Span(least=max(base + least, floor), most=min(base + worst, FREE))


def _most_blocks(bench: Workbench) -> int:
    """An upper bound on the pieces of any stack of the demand."""
    demand: Demand = bench.problem.demands[0]
    # The shortest first: no other choice fits more pieces into the length.
    lengths = sorted(_gauges(bench.problem.pieces))
    room, count = demand.high, 0
    for length in lengths:
        room -= length
        if room < 0:
            break
        count += 1
    return min(demand.most, count + demand.wear)


def _gauges(pieces: tuple[Piece, ...]) -> Iterator[int]:
    return (piece.nominal for piece in pieces if not piece.wear)
