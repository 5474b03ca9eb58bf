"""The command line: ``wrung serve`` and ``wrung openapi``."""

import argparse
import os
import sys
from collections.abc import Mapping, Sequence
from importlib.metadata import version
from typing import get_args

import msgspec

from wrung_service.app import create_app
from wrung_service.observe.logs import make_log
from wrung_service.observe.sink import LineSink
from wrung_service.server import run
from wrung_service.settings import (
    Settings,
    SettingsError,
    flag,
    read_settings,
    unknown_variables,
    variable,
)

_STANDARD_OUTPUT = 1
_WRONG_SETTINGS = 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; 0 if it ended well, 2 if it was called wrongly."""
    parsed = _parser().parse_args(arguments)
    return int(parsed.command(parsed))


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="wrung", description="Gauge block stacks, over HTTP.")
    parser.add_argument("--version", action="version", version=f"wrung {version('wrung')}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    serve = commands.add_parser(
        "serve",
        help="run the service",
        description="Run the service. Flags override the environment variables named beside them.",
    )
    serve.set_defaults(command=_serve)
    for field in msgspec.structs.fields(Settings):
        serve.add_argument(flag(field.name), dest=field.name, metavar="VALUE", help=_help(field))
    document = commands.add_parser("openapi", help="print the OpenAPI document")
    document.set_defaults(command=_print_openapi)
    return parser


def _serve(parsed: argparse.Namespace) -> int:
    _open_standard_streams()
    flags = {name: getattr(parsed, name) for name in Settings.__struct_fields__}
    given = {name: value for name, value in flags.items() if value is not None}
    try:
        settings = read_settings(os.environ, given)
    except SettingsError as error:
        sys.stderr.write("\n  ".join(("wrung: the settings are wrong", *error.faults)) + "\n")
        return _WRONG_SETTINGS
    _run(settings, os.environ)
    return 0


def _run(settings: Settings, environment: Mapping[str, str]) -> None:
    sink = LineSink(_STANDARD_OUTPUT)
    log = make_log(sink)
    # No error: an orchestrator sets some by itself for a service that is called wrung.
    if unknown := unknown_variables(environment):
        log.warning("unknown_settings", variables=unknown)
    run(create_app(settings, log=log), settings, log, sink)


def _open_standard_streams() -> None:
    """Put what swallows everything where standard input, output or error was closed.

    Otherwise whatever is opened next, such as a socket, would get its number, and what native
    libraries write there would go into it.
    """
    for descriptor in range(3):
        try:
            os.fstat(descriptor)
        except OSError:
            # The lowest free number is the one that is missing.
            os.open(os.devnull, os.O_RDWR)


def _print_openapi(_: argparse.Namespace) -> int:
    # The document must not depend on the CPUs of the machine that prints it.
    document = create_app(Settings(solve_workers=1)).document
    text = msgspec.json.format(msgspec.json.encode(document), indent=2)
    # Bytes: JSON is UTF-8, whatever the terminal's encoding.
    sys.stdout.buffer.write(text + b"\n")
    return 0


def _help(field: msgspec.structs.FieldInfo) -> str:
    """What the setting is, and its variable; argparse reads % signs as its own."""
    described = next(each for each in get_args(field.type) if getattr(each, "description", None))
    return f"{described.description} ({variable(field.name)})".replace("%", "%%")


if __name__ == "__main__":
    sys.exit(main())
