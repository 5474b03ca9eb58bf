"""Whether batches are answered, each request once, whatever happens to workers and database.

``python -m tests.bench.batches``: on both databases, workers are killed with SIGKILL at random,
frozen and thawed, cut off from the database, and killed by requests; two batches take turns. A
client reads the results meanwhile, loses its connection at random, and goes on where it was.

Prints a table for deploy/RESULTS.md, and fails where something does not hold.
"""

import argparse
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from .batch_faults.cases import CASES
from .batch_faults.shop import HEAD, Shop
from .crib.served import databases, served
from .crib.trouble import Line


def main() -> None:
    """Do what is asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--requests", type=int, default=600, help="in a batch")
    parser.add_argument("--case", choices=[*CASES], action="append", help="all if left out")
    given = parser.parse_args()
    # Workers are what is tried here, so the service must not start one of its own.
    os.environ["WRUNG_BATCH_WORKERS"] = "apart"
    print(HEAD, flush=True)
    with databases() as (urls, server):
        line = Line(server.port)
        for name, url in urls.items():
            through = url.replace(f":{server.port}/", f":{line.port}/")
            with served(url) as (address, _):
                shop = Shop(name, url, through, address, line, server, given.requests)
                for case in given.case or CASES:
                    shop.run(case, CASES[case])
        line.close()


if __name__ == "__main__":
    main()
