"""The candidates among which a plan is looked for."""

import numpy as np
from hypothesis import assume, given

from solver.problems import problem_of
from solver.proofs.agreement import AMPLE_MS
from wrung.deadline import Deadline
from wrung.planning.candidates.stock import NEVER
from wrung.planning.candidates.walk import distinct, no_candidates
from wrung.planning.objectives.nearest import nearest
from wrung.planning.objectives.serving import all_candidates, bench_for_serving, block_question
from wrung.planning.pricing.prices import price
from wrung.testing import Request, requests


@given(requests(max_blocks=12, max_targets=5))
def test_each_candidate_is_offered_once(request_: Request) -> None:
    """Also those that pricing saw and that are listed again."""
    deadline = Deadline(AMPLE_MS)
    bench = bench_for_serving(problem_of(request_), deadline)
    every = None if bench is None else all_candidates(bench, 10_000)
    assume(every is not None)
    assert bench is not None
    assert every is not None
    question = block_question(bench, bench.counts(np.unique(every.demands)))
    priced = price(question, no_candidates(), slack=1, enough=NEVER, deadline=deadline)

    near = nearest(question, question.search(priced.prices), priced, NEVER // 2, 1 << 20)

    assert len(distinct(near)) == len(near)
