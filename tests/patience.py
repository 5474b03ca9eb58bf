"""How long tests, and services under test, wait for what happens sooner or later."""

from typing import Final

PATIENCE_S: Final = 300
"""Here a server starts in a second and the demo ends in five, on a busy machine in a minute."""

PATIENT: Final = {
    "WRUNG_DEFAULT_TIME_LIMIT_MS": "60000",
    "WRUNG_HEADER_SECONDS": "600",
    "WRUNG_BODY_SECONDS": "600",
    "WRUNG_IDLE_SECONDS": "600",
}
"""Settings of a service that has time, and waits, for longer than any machine stands still."""
