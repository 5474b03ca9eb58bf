"""Notes each search of a request, for metrics and traces."""

import time
from collections.abc import Callable
from typing import ParamSpec

from msgspec import Struct

from wrung.answers import Answer
from wrung.stages import StageTime
from wrung_service.observe.lines import request_line

Asked = ParamSpec("Asked")


class Search(Struct, frozen=True, kw_only=True):
    """One call of `wrung.solve`.

    Attributes:
        began: on the clock of `time.perf_counter`.
        took_ms: the whole call.
        proof_gap: see `proof_gap`.
    """

    outcome: str
    engine: str
    began: float
    took_ms: float
    proof_gap: float
    stages: tuple[StageTime, ...]


def noting(solve: Callable[Asked, Answer]) -> Callable[Asked, Answer]:
    """The same, but each call is noted with the request that it is for."""

    def solved(*args: Asked.args, **kwargs: Asked.kwargs) -> Answer:
        began = time.perf_counter()
        answer = solve(*args, **kwargs)
        # The self-test is for no request.
        if (line := request_line()) is not None:
            line.searches.append(_search(answer, began))
        return answer

    return solved


def _search(answer: Answer, began: float) -> Search:
    return Search(
        outcome=answer.outcome,
        engine=answer.diagnostics.engine or "none",
        began=began,
        took_ms=(time.perf_counter() - began) * 1000,
        proof_gap=proof_gap(answer),
        stages=answer.diagnostics.stages,
    )


def proof_gap(answer: Answer) -> float:
    """How far the first goal that is not proven may be from the best, as a share of its value.

    0 where all is proven, 1 where nothing is known of that goal.
    """
    served, most = len(answer.stacks), answer.bounds.served
    if served < most:
        return (most - served) / most
    if answer.objective_proven:
        return 0.0
    return next((gap for gap in map(_gap, *_goals(answer)) if gap > 0), 0.0)


def _goals(answer: Answer) -> tuple[tuple[int, ...], tuple[int | None, ...]]:
    """Values and bounds, in the order of the objective."""
    compared, bounds = answer.compared_errors, answer.bounds
    if compared is None:
        errors = (answer.largest_worst_case_error, answer.total_worst_case_error)
        least = (bounds.largest_worst_case_error, bounds.total_worst_case_error)
    else:
        errors = (compared.largest, compared.total)
        least = (compared.largest_bound, compared.total_bound)
    if answer.objective == "fewest_blocks":
        return (answer.total_blocks, *errors), (bounds.total_blocks, *least)
    return (*errors, answer.total_blocks), (*least, bounds.total_blocks)


def _gap(value: int, bound: int | None) -> float:
    if bound is None:
        return 1.0
    return (value - bound) / value if value > bound else 0.0
