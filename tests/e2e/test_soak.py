"""A minute of plans, stacks, cards and batches on three replicas behind a real balancer."""

import pytest

from bench.cluster.balancer import NOT_THERE, balancer
from bench.cluster.soak import soak
from postgres import programs

_MOST_MB = 30.0
"""Caches still fill in the first minute; what is kept for each request would come to more."""


@pytest.mark.long
@pytest.mark.skipif(balancer() is None, reason=NOT_THERE)
@pytest.mark.skipif(programs() is None, reason="PostgreSQL is not installed")
def test_a_minute_of_everything_adds_up_and_holds_no_more_memory() -> None:
    soaked = soak(1.0)
    assert soaked.wrong == []
    assert all(tally.outcomes for tally in soaked.tallies.values())
    for each in soaked.memory:
        assert each.after_mb - each.before_mb < _MOST_MB, soaked.memory
