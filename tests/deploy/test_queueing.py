"""The queueing model of a large site, against formulas of queueing theory."""

import pytest

from bench.queueing import Cell, Costs, closed, opened

_NOTHING = {"database": 0.0, "balancer": 0.0, "client": 0.0, "pause": 0.0}


def test_one_server_with_random_arrivals_is_as_late_as_theory_says() -> None:
    # M/M/1: the time in the system is exponential with mean 1 / (mu - lambda), so its median is
    # ln 2 of that and its 99th percentile ln 100. Kleinrock, Queueing Systems I (1975), ch. 3;
    # from memory.
    cost = Costs(service=10.0, **_NOTHING)
    found = opened(cost, cost, Cell(services=1, database_cpus=1, per_second=50, plans=0))
    assert found.median == pytest.approx(0.693 * 20, rel=0.15)
    assert found.late == pytest.approx(4.605 * 20, rel=0.2)
    assert found.services == pytest.approx(0.5, rel=0.05)


def test_clients_in_turn_are_held_up_by_the_slowest_part() -> None:
    cost = Costs(service=10.0, **_NOTHING)
    assert closed(cost, services=1, threads=1, cpus=2, clients=8, sites=8) == pytest.approx(
        100, rel=0.1
    )
    assert closed(cost, services=3, threads=1, cpus=2, clients=8, sites=8) == pytest.approx(
        200, rel=0.1
    )
