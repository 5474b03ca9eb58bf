"""A queueing model of an installation, whose times are the measured CPU times of its parts.

A service, the balancer and the client that makes the load are one thread each as far as Python or
the program lets them, so they are single servers; all of them need a CPU while they work. A request
keeps its place among a service's threads while it waits for the database. What is left of a lone
client's time is a pause that needs no CPU: the disk, and processes that wake up. Plans of one site
take the database and that pause in turn: each locks the end of the site's history.
"""

import random
import statistics
from collections.abc import Generator, Sequence
from typing import TypeAlias

import simpy
from msgspec import Struct

from bench.capacity import Point

Steps: TypeAlias = Generator[simpy.Event, None, None]


class Costs(Struct, frozen=True, kw_only=True):
    """Of one request, ms."""

    service: float
    database: float
    balancer: float
    client: float
    pause: float


class Cell(Struct, frozen=True, kw_only=True):
    """Services with a CPU each, and their database.

    Attributes:
        plans: the share of requests that make a plan.
    """

    services: int
    database_cpus: int
    per_second: float
    plans: float


class Answered(Struct, frozen=True, kw_only=True):
    """How long requests took, ms, and how busy the parts were, 0 to 1."""

    median: float
    late: float
    services: float
    database: float


def costs(lone: Point, loaded: Point) -> Costs:
    """CPU times under load; the pause from a client that is alone."""
    parts = (lone.service_ms, lone.database_ms, lone.balancer_ms, lone.client_ms)
    return Costs(
        service=loaded.service_ms,
        database=loaded.database_ms,
        balancer=loaded.balancer_ms,
        client=loaded.client_ms,
        pause=max(0.0, 1000 / lone.per_second - sum(parts)),
    )


def closed(  # noqa: PLR0913 - the size of an installation
    cost: Costs,
    *,
    services: int,
    threads: int,
    cpus: int,
    clients: int,
    sites: int,
    requests: int = 4000,
) -> float:
    """Requests a second where so many clients each send one after another, all on one machine."""
    world, chance, done = simpy.Environment(), random.Random(1), list[float]()
    cpu = simpy.Resource(world, cpus)
    replicas = [(simpy.Resource(world, threads), simpy.Resource(world)) for _ in range(services)]
    balancer, client = simpy.Resource(world), simpy.Resource(world)
    places = [simpy.Resource(world) for _ in range(sites)]

    def burst(of: simpy.Resource, mean: float) -> Steps:
        with of.request() as mine:
            yield mine
            with cpu.request() as core:
                yield core
                yield world.timeout(_drawn(chance, mean))

    def work() -> Steps:
        while len(done) < requests:
            yield from burst(client, cost.client)
            yield from burst(balancer, cost.balancer)
            slots, interpreter = min(replicas, key=lambda each: _held(each[0]))
            with slots.request() as slot:
                yield slot
                yield from burst(interpreter, cost.service)
                with chance.choice(places).request() as turn:
                    yield turn
                    with cpu.request() as core:
                        yield core
                        yield world.timeout(_drawn(chance, cost.database))
                    yield world.timeout(_drawn(chance, cost.pause))
            done.append(world.now)

    for _ in range(clients):
        world.process(work())
    world.run()
    return 1000 * len(done) / done[-1]


def opened(stack: Costs, plan: Costs, cell: Cell, *, requests: int = 20_000) -> Answered:
    """Requests come at random, whatever becomes of those before; every service has its CPU."""
    world, chance, took = simpy.Environment(), random.Random(1), list[float]()
    services = [simpy.Resource(world) for _ in range(cell.services)]
    database = simpy.Resource(world, cell.database_cpus)
    busy = {"services": 0.0, "database": 0.0}

    def burst(of: simpy.Resource, name: str, mean: float) -> Steps:
        with of.request() as mine:
            yield mine
            drawn = _drawn(chance, mean)
            busy[name] += drawn
            yield world.timeout(drawn)

    def request() -> Steps:
        began, cost = world.now, plan if chance.random() < cell.plans else stack
        yield from burst(min(services, key=_held), "services", cost.service)
        if cost is plan:
            yield from burst(database, "database", cost.database)
        yield world.timeout(_drawn(chance, cost.pause))
        took.append(world.now - began)

    def arrivals() -> Steps:
        for _ in range(requests):
            world.process(request())
            yield world.timeout(chance.expovariate(cell.per_second / 1000))

    world.process(arrivals())
    world.run()
    return Answered(
        median=statistics.median(took),
        late=statistics.quantiles(took, n=100)[98],
        services=busy["services"] / world.now / cell.services,
        database=busy["database"] / world.now / cell.database_cpus,
    )


def hottest(sites: int, cells: int, spread: float) -> float:
    """How much more than the mean the busiest cell has, with sites dealt at random.

    Args:
        sites: how many there are; their loads are log-normal.
        cells: among how many they are dealt.
        spread: standard deviation of the logarithm of a site's load.
    """
    chance, loads = random.Random(1), [0.0] * cells
    for _ in range(sites):
        loads[chance.randrange(cells)] += chance.lognormvariate(0, spread)
    return max(loads) / statistics.mean(loads)


def _drawn(chance: random.Random, mean: float) -> float:
    return chance.expovariate(1 / mean) if mean else 0.0


def _held(of: simpy.Resource) -> int:
    waiting: Sequence[object] = of.queue
    return of.count + len(waiting)
