"""A warning where others than this machine can come in."""

import pytest

from service.conftest import LogBook
from wrung_service.observe.logs import make_log
from wrung_service.server import warn_if_open
from wrung_service.settings import Settings


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7", "gauge-room.example"])  # noqa: S104 - nothing listens
def test_an_address_for_others_is_warned_of(log_book: LogBook, host: str) -> None:
    """In one line that says what follows from it."""
    warn_if_open(Settings(bind_host=host), make_log(log_book.stream))

    (line,) = log_book.lines("no_access_control")
    assert (line["level"], line["host"]) == ("warning", host)
    assert "asks for no key" in line["detail"]


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.2", "::1", "localhost"])
def test_loopback_is_not(log_book: LogBook, host: str) -> None:
    """Only this machine gets there."""
    warn_if_open(Settings(bind_host=host), make_log(log_book.stream))

    assert log_book.stream.getvalue() == ""
