"""The step that both objectives are built from: settle the least sum of costs."""

from wrung.deadline import Deadline
from wrung.planning.candidates.walk import Candidates
from wrung.planning.objectives.closing import Closing, impossible, quick_choice
from wrung.planning.objectives.question import Question, Settled
from wrung.planning.pricing.prices import Priced, dearest_plan, price


def settle_sum(question: Question, pool: Candidates, deadline: Deadline) -> Settled:
    """Least sum of costs."""
    dearest = dearest_plan(question.bench, question.goal)
    slack = max(question.grain // 64, 1)
    priced = _priced(question, pool, dearest, slack=slack, deadline=deadline)
    if priced.bound > dearest:
        return impossible()
    return Closing(question, priced, dearest, deadline).run()


def _priced(
    question: Question, pool: Candidates, enough: int, *, slack: int, deadline: Deadline
) -> Priced:
    return price(
        question.bench,
        question.goal,
        caps=question.caps,
        served=question.served,
        pool=pool,
        window=question.window,
        slack=slack,
        enough=enough,
        deadline=deadline,
        blocks=question.blocks,
    )


def any_plan(question: Question, pool: Candidates, deadline: Deadline) -> Candidates | None:
    """A plan of the candidates that prices lead to, if one is found with little effort."""
    dearest = dearest_plan(question.bench, question.goal)
    priced = _priced(question, pool, dearest, slack=dearest // 1000, deadline=deadline)
    if priced.bound > dearest:
        return None
    return quick_choice(question, priced.pool, deadline)
