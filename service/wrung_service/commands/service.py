"""``wrung serve``, ``wrung worker`` and ``wrung openapi``: what needs the extra ``service``."""

import gc
import os
import sys
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any, Final, get_args

import click
import msgspec

from wrung_service.commands.status import Status, after_help
from wrung_service.settings import Limits, Settings
from wrung_service.settings_reading import FILE, SettingsError, flag, read_settings, variable

_MISSING: Final = """\
`wrung {name}` needs the packages of the extra `service` ({missing} is missing).
In a clone: pip install '.[service]'
With a wheel: pip install 'wrung-VERSION-py3-none-any.whl[service]'"""
_RUNNING: Final = "wrung_service.running"


def _serve(**flags: str | None) -> None:
    _open_standard_streams()
    settings = _settings(flags)
    # Until it listens nearly all that is made stays: looking for garbage in it takes a sixth of
    # the start. The server looks once, when it has started, and from then on.
    gc.disable()
    try:
        needing_service("serve", "serve")(settings)
    finally:
        gc.enable()


def _work(*, idle_seconds: float, name: str, with_parent: bool, **flags: str | None) -> None:
    _open_standard_streams()
    settings = _settings(flags)
    if not settings.store_url:
        click.echo(f"wrung: --store-url ({variable('store_url')}): say which database", err=True)
        sys.exit(Status.REFUSED)
    run = needing_service("worker", "work")
    run(settings, idle_seconds, name=name, with_parent=with_parent)


def _settings(flags: Mapping[str, str | None]) -> Settings:
    given = {name: value for name, value in flags.items() if value is not None}
    # Only what the command has a flag for: a worker listens nowhere, whatever its container says.
    meant = {variable(name) + end for name in flags for end in ("", FILE)}
    environment = {name: os.environ[name] for name in meant if name in os.environ}
    try:
        return read_settings(environment, given)
    except SettingsError as error:
        click.echo("\n  ".join(("wrung: the settings are wrong", *error.faults)), err=True)
        sys.exit(Status.REFUSED)


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


def _option(field: msgspec.structs.FieldInfo) -> click.Option:
    described = next(each for each in get_args(field.type) if getattr(each, "description", None))
    told = f"{described.description} ({variable(field.name)})"
    return click.Option([flag(field.name), field.name], metavar="VALUE", help=told)


serve: Final = click.Command(
    "serve",
    callback=_serve,
    params=[_option(field) for field in msgspec.structs.fields(Settings)],
    help="Run the HTTP service until Ctrl-C. Flags go before the variables beside them. A secret "
    f"can stand in a file: {variable('store_url')}{FILE} names it, and so on.",
    epilog=after_help("wrung serve", "wrung serve --port 9000", "python -m wrung_service"),
)


def _short(_: click.Context, __: click.Parameter, name: str) -> str:
    if len(name) > _LONGEST_NAME:
        raise click.BadParameter(f"has more than {_LONGEST_NAME} characters")
    return name


_LONGEST_NAME: Final = 64
"""As long as the name of a host may be."""
_OF_WORKERS: Final = ("store_url", "path_prefix", "grace_seconds", "batch_hours")

worker: Final = click.Command(
    "worker",
    callback=_work,
    params=[
        click.Option(
            ["--idle-seconds"],
            type=click.FloatRange(0, 1_000_000),
            default=0.0,
            help="End when there was nothing to do for so long, s; 0: never, by default.",
        ),
        click.Option(
            ["--name"],
            default="",
            callback=_short,
            help="Name of this worker alone, which whichever is started in its place gets, too: it "
            "lets others have at once what this one had begun when it died. In a container the "
            "host's name, by default.",
        ),
        click.Option(
            ["--with-parent"],
            is_flag=True,
            hidden=True,
            help="End when standard input is closed, as it is when whoever opened it is gone.",
        ),
        *(
            _option(each)
            for each in msgspec.structs.fields(Settings)
            if each.name in {*_OF_WORKERS, *Limits.__struct_fields__}
        ),
    ],
    help="Answer batches until SIGTERM or Ctrl-C; any number of them on one database. Give it the "
    "limits of the service whose batches they are.",
    epilog=after_help("wrung worker --store-url postgresql://wrung@db/crib --solve-workers 4"),
)


@click.command(epilog=after_help("wrung openapi > openapi.json"))
def openapi() -> None:
    """Print the OpenAPI document of the service."""
    sys.stdout.buffer.write(needing_service("openapi", "document")())


def needing_service(command: str, function: str) -> Callable[..., Any]:
    """A function of the part that needs the extra; says how to get it where it is missing."""
    try:
        return getattr(import_module(_RUNNING), function)  # type: ignore[no-any-return]
    except ModuleNotFoundError as error:
        missing = (error.name or "").partition(".")[0]
        if missing.startswith("wrung"):
            raise
        click.echo(_MISSING.format(name=command, missing=missing), err=True)
        sys.exit(Status.REFUSED)
