"""The service with its search taken out: reads and checks a request, and finds nothing.

Run as ``python -m tests.bench.noop --host 127.0.0.1 --port N``. What it takes for a request is what
the service takes beside the search.
"""

import argparse
import sys
from collections.abc import Sequence
from typing import Any

import wrung
from wrung.answers import Answer, Bounds, Diagnostics, Objective, Unmet
from wrung.blocks import Block
from wrung.targets import Target
from wrung_service.app import create_app
from wrung_service.observe.logs import make_log
from wrung_service.observe.sink import LineSink
from wrung_service.server import run
from wrung_service.settings_reading import read_settings


def find_nothing(
    blocks: Sequence[Block],
    targets: Sequence[Target],
    *,
    objective: Objective,
    **options: Any,  # noqa: ANN401 - passed on as they come
) -> Answer:
    """An answer as if nothing could be built; the self-test of readiness is really solved."""
    if [target.ref for target in targets] == ["self-test"]:
        return wrung.solve(blocks, targets, objective=objective, **options)
    return Answer(
        # Not "unknown", which the service refuses after a wait.
        outcome="infeasible",
        proven=True,
        objective_proven=False,
        objective=objective,
        total_blocks=0,
        largest_worst_case_error=0,
        total_worst_case_error=0,
        bounds=Bounds(served=0),
        unmet=tuple(Unmet(target=target.ref, reason="cannot_be_built") for target in targets),
        solve_ms=0.0,
        diagnostics=Diagnostics(engine=None),
    )


def main() -> None:
    """Serve until ended."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--host", default="127.0.0.1")
    parser.add_argument("--port", default="0")
    arguments = parser.parse_args()
    flags = {"bind_host": arguments.host, "bind_port": arguments.port}
    settings = read_settings({}, flags)
    sink = LineSink(sys.stdout.fileno())
    log = make_log(sink)
    run(create_app(settings, solve=find_nothing, log=log), settings, log, sink)


if __name__ == "__main__":
    main()
