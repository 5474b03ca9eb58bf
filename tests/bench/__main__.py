"""Time requests over the library and over HTTP, beside a service whose search is taken out.

    python -m tests.bench [--requests FILE] [--family NAME]... [--seed N] [--count N]

FILE is a script that prints requests (called as FILE FAMILY --seed N --count N, and with --list
for its families) or a file with one JSON body a line; invented requests of our own by default.
All servers listen on loopback, and every loop is bounded.
"""

import argparse
from collections.abc import Mapping
from pathlib import Path

from . import library, over_http, report, sources
from .load import throughput
from .server import Server, running

OWN = Path(__file__).parent / "families.py"
SLOWEST_UNDER_LOAD_MS = 250
"""Families that take longer are not put under load: few requests would fit into the time."""


def main() -> None:
    """Measure and print."""
    arguments = _arguments()
    families = _requests(arguments)
    with running() as service, running("tests.bench.noop", ()) as noop:
        _warm_up(families, service, noop)
        print(report.HEAD)
        measured = [_measure(name, families[name], service, noop) for name in families]
        print()
        for figures in measured:
            if arguments.load_seconds and report.median_ms(figures.http) <= SLOWEST_UNDER_LOAD_MS:
                print(_under_load(figures.name, families[figures.name], service, noop, arguments))
        print(f"memory of the service at its most: {service.peak_megabytes():.0f} MB")


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--requests", type=Path, default=OWN, metavar="FILE")
    parser.add_argument("--family", action="append", default=[], metavar="NAME")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=10)
    parser.add_argument("--clients", type=int, default=8, help="clients at once, under load")
    parser.add_argument("--turns", type=int, default=3, help="of either server, under load")
    parser.add_argument("--load-seconds", type=float, default=1, help="for each turn; 0 for none")
    return parser.parse_args()


def _requests(arguments: argparse.Namespace) -> Mapping[str, list[bytes]]:
    if arguments.requests.suffix == ".py":
        return sources.generated(
            arguments.requests,
            families=arguments.family,
            seed=arguments.seed,
            count=arguments.count,
        )
    return sources.from_file(arguments.requests, arguments.count)


def _warm_up(families: Mapping[str, list[bytes]], service: Server, noop: Server) -> None:
    """The first search loads the solver; that is a start's cost, not a request's."""
    first = next(iter(families.values()))[:1]
    list(library.samples(first))
    for server in (service, noop):
        list(over_http.samples(server.port, first))


def _measure(name: str, bodies: list[bytes], service: Server, noop: Server) -> report.FamilyFigures:
    figures = report.FamilyFigures(
        name=name,
        library=list(library.samples(bodies)),
        http=list(over_http.samples(service.port, bodies)),
        noop=list(over_http.samples(noop.port, bodies)),
    )
    print(report.line(figures), flush=True)
    return figures


def _under_load(
    name: str, bodies: list[bytes], service: Server, noop: Server, arguments: argparse.Namespace
) -> str:
    def one(server: Server) -> report.Turn:
        before = server.cpu_seconds()
        load = throughput(
            server.port, bodies, clients=arguments.clients, seconds=arguments.load_seconds
        )
        return report.Turn(load=load, cpu_seconds=server.cpu_seconds() - before)

    # By turns, so that other work on the machine slows both alike.
    turns = [(one(service), one(noop)) for _ in range(arguments.turns)]
    return report.load_line(name, arguments.clients, turns)


if __name__ == "__main__":
    main()
