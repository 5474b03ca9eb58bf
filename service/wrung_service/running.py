"""Runs the service with its settings, and prints its document: for the command line."""

import os
import sys
from typing import Final

import msgspec

from wrung_service.app import create_app
from wrung_service.observe.logs import make_log
from wrung_service.observe.sink import LineSink
from wrung_service.server import address_to_open, run
from wrung_service.settings import Settings, unknown_variables

_STANDARD_OUTPUT: Final = 1


def serve(settings: Settings) -> None:
    """Serve until told to end."""
    sink = LineSink(_STANDARD_OUTPUT)
    log = make_log(sink)
    # No error: an orchestrator sets some by itself for a service that is called wrung.
    if unknown := unknown_variables(os.environ):
        log.warning("unknown_settings", variables=unknown)
    if sys.stderr is not None and sys.stderr.isatty():
        # For whoever is at the terminal; with port 0 the log line says which port it became.
        address = address_to_open(settings.bind_host, settings.bind_port)
        sys.stderr.write(f"Open {address} in a browser; Ctrl-C ends the service.\n")
    run(create_app(settings, log=log), settings, log, sink)


def document() -> bytes:
    """The OpenAPI document, as UTF-8."""
    # It must not depend on the CPUs of the machine that prints it.
    made = create_app(Settings(solve_workers=1)).document
    return msgspec.json.format(msgspec.json.encode(made), indent=2) + b"\n"
