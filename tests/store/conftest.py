"""What tests of the store share beside the stores themselves."""

import pytest

from store.rows import Clock


@pytest.fixture
def clock() -> Clock:
    """What time the service thinks it is: the day before everything that is planned."""
    return Clock()
