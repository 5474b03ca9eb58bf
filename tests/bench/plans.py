"""Whether plans keep what they promise, under load, under kill -9 and when the database fails.

``python -m tests.bench.plans race``: 500 plans at one time on 20 blocks, on both databases.
``python -m tests.bench.plans kill --rounds 100``: kill -9 at random moments while plans are made.
``python -m tests.bench.plans cost``: a plan beside the same stateless request, with 10,000 plans
and 50 sets in the store, and the free blocks of 5,000.
``python -m tests.bench.plans faults``: a full disk, a lock, a database that is gone, frozen or cut
off, on both databases, while clients go on asking.

Each prints a table for deploy/RESULTS.md, and fails where something does not hold.
"""

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from .crib.cost import cost
from .crib.faults import faults
from .crib.killing import kill
from .crib.race import race


def main() -> None:
    """Do what is asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["race", "kill", "cost", "faults"])
    parser.add_argument("--rounds", type=int, default=100)
    given = parser.parse_args()
    if given.what == "kill":
        kill(given.rounds)
    else:
        {"race": race, "cost": cost, "faults": faults}[given.what]()


if __name__ == "__main__":
    main()
