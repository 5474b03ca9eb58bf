"""A real server for the examples and the documents."""

from collections.abc import Iterator

import pytest

from bench.server import running


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    """The address of a running service."""
    with running() as server:
        yield server.address
