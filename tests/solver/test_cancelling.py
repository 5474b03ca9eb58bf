"""What a cancelled search answers with: the best plan found so far, as its documentation says."""

import threading

import pytest

from wrung import Answer, Block, Cancel, GaugeSet, LengthTarget, Objective, inch, solve, verify
from wrung.planning import engines

SHELF: list[Block] = [
    block
    for number in range(3)
    for block in GaugeSet(id=f"s{number}", composition="inch-81", grade="0").blocks()
]
TARGETS = [LengthTarget(ref=f"t{k}", length=inch(f"{0.5003 + 0.0931 * k:.4f}")) for k in range(30)]
OBJECTIVES: tuple[Objective, ...] = ("fewest_blocks", "least_error")


def cancelled(after_s: float, count: int, objective: Objective) -> Answer:
    cancel = Cancel()
    timer = threading.Timer(after_s, cancel.cancel)
    timer.start()
    answer = solve(
        SHELF, TARGETS[:count], objective=objective, time_limit_ms=600_000, cancel=cancel
    )
    timer.cancel()
    assert verify(SHELF, TARGETS[:count], answer, objective=objective) == ()
    return answer


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("after_s", [0.0, 0.005, 0.05, 0.2])
@pytest.mark.parametrize("count", [1, 8, 30])
def test_a_cancelled_search_has_a_plan(count: int, after_s: float, objective: Objective) -> None:
    """However early it was cancelled, and however much time it seemed to have."""
    answer = cancelled(after_s, count, objective)

    assert answer.outcome in ("optimal", "feasible", "partial")
    assert answer.stacks


def test_a_plan_found_before_is_not_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """The better one of what an engine found and what is put together at the end."""
    targets = TARGETS[:6]
    best = solve(SHELF, targets)
    cancel = Cancel()
    real = engines.ENGINES[0][1]

    def found_then_cancelled(*asked: object) -> object:
        finding = real(*asked)  # type: ignore[arg-type]
        cancel.cancel()
        return finding

    monkeypatch.setattr(engines, "ENGINES", (("candidates", found_then_cancelled),))
    answer = solve(SHELF, targets, time_limit_ms=600_000, cancel=cancel)

    assert len(answer.stacks) == len(best.stacks)
    assert answer.total_blocks == best.total_blocks
