"""The running service while its database is full, locked, gone, frozen or cut off."""

from collections.abc import Callable, Iterator

import pytest

from bench.crib.faults import on_postgres, on_sqlite
from postgres import programs
from stores import NOT_THERE

HOLD_S = 6.0
"""For each trouble; `python -m tests.bench.plans faults` takes longer."""
SLACK = 3.0
"""On machines that nobody knows; what hangs is given up after four times the bound."""


@pytest.mark.long
@pytest.mark.parametrize(("run", "cases"), [(on_sqlite, 2), (on_postgres, 5)])
def test_no_trouble_of_the_database_hangs_the_service(
    run: Callable[[float, float], Iterator[str]], cases: int
) -> None:
    """Problems within a bound, stateless requests as ever, and the first plan afterwards is kept.

    Where nothing may be mounted, no disk can be filled.
    """
    if run is on_postgres and programs() is None:
        pytest.skip(NOT_THERE)
    assert len(list(run(HOLD_S, SLACK))) >= cases
