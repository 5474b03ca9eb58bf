"""A real server for the examples and the documents."""

from collections.abc import Iterator

import pytest

from bench.server import running


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    """The address of a running service, which has more time than it needs on any machine."""
    with running(settings={"WRUNG_DEFAULT_TIME_LIMIT_MS": "60000"}) as server:
        yield server.address
