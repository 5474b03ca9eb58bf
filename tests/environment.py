"""The environment of tests: what a machine has set there must not steer what is under test."""

import os
import tempfile
from typing import Final

_STEERING: Final = ("GIT_", "LANGUAGE", "OTEL_", "PG", "WRUNG_")
"""Of git, gettext, OpenTelemetry, PostgreSQL's clients, and the service itself."""
_OF_TESTS: Final = ("_CASES", "PG_BIN")
_SET: Final = {
    # Commands speak the language of their terminal, and compilers read files in its encoding.
    "LC_ALL": "C.UTF-8",
    # All servers are on loopback, where no proxy leads.
    "NO_PROXY": "*",
    "no_proxy": "*",
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_CONFIG_NOSYSTEM": "1",
}
_LONGEST: Final = 60
"""Of the path of temporary files: sockets in them have a hundred characters for all of theirs."""


def set_up_environment() -> None:
    """Leave what steers others out, for this process and all that it starts."""
    for name in list(os.environ):
        if name.startswith(_STEERING) and not name.endswith(_OF_TESTS):
            del os.environ[name]
    os.environ.update(_SET)
    if len(tempfile.gettempdir()) > _LONGEST:
        tempfile.tempdir = os.environ["TMPDIR"] = "/tmp"  # noqa: S108 - files in it are made safely
