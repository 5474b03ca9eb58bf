"""A queueing model of an installation, whose times are the measured CPU times of its parts.

What all parts wait for is a CPU: each CPU serves whoever wants it in turn, and the processes of a
machine share its CPUs. A service and a worker have one CPU each, which they may share with others,
as all their threads together use no more than one. A request keeps its place among a service's
threads while it goes to the database and back, and holds its site on the last of these ways: if it
loses its CPU meanwhile, the others wait for the site as well. What is left of a lone client's time
is a pause that needs no CPU: the disk, and processes that wake up.
"""

import random
import statistics
from collections.abc import Generator, Mapping, Sequence
from typing import TypeAlias

import simpy
from msgspec import Struct

from bench.capacity import Point

Steps: TypeAlias = Generator[simpy.Event, None, None]
_Cpus: TypeAlias = Sequence[simpy.Resource]

_WAYS = {"plans": (21, 4)}
"""How often a request goes to the database and back, and how often so while it holds its site."""


class Costs(Struct, frozen=True, kw_only=True):
    """Of one request, ms.

    Attributes:
        ways: how often it goes to the database and back.
        holding: on how many of these ways it holds its site.
    """

    service: float = 0.0
    database: float = 0.0
    balancer: float = 0.0
    client: float = 0.0
    pause: float = 0.0
    ways: int = 1
    holding: int = 0


class Size(Struct, frozen=True, kw_only=True):
    """How much there is of what.

    Attributes:
        services: or workers of batches.
        threads: requests at one time in each.
        cpus: of the machine that all of it runs on; 0 if each service has one of its own.
        database_cpus: of the database's own machine, if there is one.
    """

    services: int
    threads: int = 1
    sites: int
    cpus: int = 0
    database_cpus: int = 0


class Answered(Struct, frozen=True, kw_only=True):
    """How long requests took, ms, how many there were a second, and how busy the parts were.

    Attributes:
        services: the share of their CPUs' time, 0 to 1, where each has one of its own.
        database: likewise of its CPUs.
    """

    median: float
    late: float
    per_second: float
    services: float
    database: float


def costs(kind: str, lone: Point, loaded: Point) -> Costs:
    """CPU times under load; the pause from a client that is alone."""
    parts = (lone.service_ms, lone.database_ms, lone.balancer_ms, lone.client_ms)
    ways, holding = _WAYS.get(kind, (1, 0))
    return Costs(
        service=loaded.service_ms,
        database=loaded.database_ms,
        balancer=loaded.balancer_ms,
        client=loaded.client_ms,
        pause=max(0.0, 1000 / lone.per_second - sum(parts)),
        ways=ways,
        holding=holding,
    )


def closed(cost: Costs, size: Size, clients: int, *, requests: int = 3000) -> Answered:
    """So many clients each send one request after another."""
    model = _Model(size)

    def work() -> Steps:
        while len(model.took) < requests:
            yield from model.request(cost)

    for _ in range(clients):
        model.world.process(work())
    return model.run()


def opened(
    mix: Mapping[Costs, float], size: Size, per_second: float, *, requests: int = 20_000
) -> Answered:
    """Requests come at random, each kind with its share, whatever becomes of those before."""
    model = _Model(size)

    def arrivals() -> Steps:
        for cost in model.chance.choices([*mix], [*mix.values()], k=requests):
            model.world.process(model.request(cost))
            yield model.world.timeout(model.chance.expovariate(per_second / 1000))

    model.world.process(arrivals())
    return model.run()


class _Service:
    def __init__(self, world: simpy.Environment, threads: int, cpu: simpy.Resource) -> None:
        self.threads, self.cpus = simpy.Resource(world, threads), [cpu]


class _Model:
    """One installation at work; all chance comes from one seed."""

    def __init__(self, size: Size) -> None:
        self.world, self.chance = simpy.Environment(), random.Random(1)
        self.took = list[float]()
        self._size, self._busy = size, {"services": 0.0, "database": 0.0, "others": 0.0}
        shared = self._cpus(size.cpus)
        own = shared or self._cpus(size.services)
        self._services = [
            _Service(self.world, size.threads, own[n % len(own)]) for n in range(size.services)
        ]
        self._database = self._cpus(size.database_cpus) or shared
        # Clients and balancers of a large installation are not what it is asked of.
        self._others = shared
        self._sites = [simpy.Resource(self.world) for _ in range(size.sites)]

    def request(self, cost: Costs) -> Steps:
        """From the client and back to it."""
        began = self.world.now
        if self._others:
            yield from self._burst(self._others, "others", cost.client)
            yield from self._burst(self._others, "others", cost.balancer)
        service = min(self._services, key=lambda each: _held(each.threads))
        with service.threads.request() as thread:
            yield thread
            yield from self._ways(cost, service, cost.ways - cost.holding)
            if cost.holding:
                with self.chance.choice(self._sites).request() as site:
                    yield site
                    yield from self._ways(cost, service, cost.holding)
                    yield self.world.timeout(self._drawn(cost.pause))
            else:
                yield self.world.timeout(self._drawn(cost.pause))
        self.took.append(self.world.now - began)

    def run(self) -> Answered:
        """To the end."""
        self.world.run()
        passed = self.world.now
        return Answered(
            median=statistics.median(self.took),
            late=statistics.quantiles(self.took, n=100)[98],
            per_second=1000 * len(self.took) / passed,
            services=self._busy["services"] / passed / self._size.services,
            database=self._busy["database"] / passed / max(1, len(self._database)),
        )

    def _ways(self, cost: Costs, service: _Service, number: int) -> Steps:
        for _ in range(number):
            yield from self._burst(service.cpus, "services", cost.service / cost.ways)
            yield from self._burst(self._database, "database", cost.database / cost.ways)

    def _burst(self, cpus: _Cpus, of: str, mean: float) -> Steps:
        if mean:
            with min(cpus, key=_held).request() as cpu:
                yield cpu
                drawn = self._drawn(mean)
                self._busy[of] += drawn
                yield self.world.timeout(drawn)

    def _drawn(self, mean: float) -> float:
        return self.chance.expovariate(1 / mean) if mean else 0.0

    def _cpus(self, number: int) -> list[simpy.Resource]:
        return [simpy.Resource(self.world) for _ in range(number)]


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


def _held(of: simpy.Resource) -> int:
    waiting: Sequence[object] = of.queue
    return of.count + len(waiting)
