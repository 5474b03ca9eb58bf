"""A real server for the examples and the documents."""

from collections.abc import Iterator

import pytest

from bench.server import running
from patience import PATIENT


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    """The address of a running service."""
    with running(settings=PATIENT) as server:
        yield server.address
