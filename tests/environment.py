"""The environment of tests: what a machine has set there must not steer what is under test."""

import os
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


def set_up_environment() -> None:
    """Leave what steers others out, for this process and all that it starts."""
    for name in list(os.environ):
        if name.startswith(_STEERING) and not name.endswith(_OF_TESTS):
            del os.environ[name]
    os.environ.update(_SET)
