"""The queueing model of a large site, against formulas of queueing theory."""

import pytest

from bench.queueing import Costs, Size, closed, opened


def test_one_server_with_random_arrivals_is_as_late_as_theory_says() -> None:
    # M/M/1: the time in the system is exponential with mean 1 / (mu - lambda), so its median is
    # ln 2 of that and its 99th percentile ln 100. Kleinrock, Queueing Systems I (1975), ch. 3;
    # from memory.
    cost = Costs(service=10.0)
    found = opened({cost: 1.0}, Size(services=1, sites=1), 50)
    assert found.median == pytest.approx(0.693 * 20, rel=0.15)
    assert found.late == pytest.approx(4.605 * 20, rel=0.2)
    assert found.services == pytest.approx(0.5, rel=0.05)


def test_clients_in_turn_are_held_up_by_the_slowest_part() -> None:
    cost = Costs(service=10.0)
    for services, most in ((1, 100), (2, 200), (3, 200)):
        size = Size(services=services, sites=8, cpus=2)
        assert closed(cost, size, clients=8).per_second == pytest.approx(most, rel=0.1)


def test_whoever_holds_a_site_holds_up_all_others_of_it() -> None:
    # Two ways of 5 ms each, on the second of which the site is held, and then a disk of 10 ms:
    # one site answers at most once in 15 ms, however many services there are.
    cost = Costs(database=10.0, pause=10.0, ways=2, holding=1)
    one, many = (
        closed(cost, Size(services=8, sites=sites, cpus=8), clients=8) for sites in (1, 64)
    )
    assert one.per_second == pytest.approx(1000 / 15, rel=0.1)
    assert many.per_second > 4 * one.per_second
