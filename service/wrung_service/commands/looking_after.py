"""``wrung doctor``, ``wrung verify-history`` and ``wrung backup``: to look after a store."""

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, TypeVar

import click

from wrung_service.commands.language import Spoken
from wrung_service.commands.service import needing_service
from wrung_service.commands.status import Status, after_help
from wrung_service.settings_reading import FILE, SettingsError, from_environment, variable

_REFUSED: Final = frozenset({"UnavailableError", "UnfitStoreError", "BackupError", "ValueError"})
_Command = TypeVar("_Command", bound=Callable[..., Any])


def url_from_environment() -> str:
    """The address of the database, for whom no option names one."""
    try:
        url = from_environment("store_url", os.environ)
    except SettingsError as error:
        raise click.UsageError(str(error)) from None
    if not url:
        raise click.MissingParameter(param_hint="'--store-url'", param_type="option")
    return url


def option_of_store(end: str = ".") -> Callable[[_Command], _Command]:
    """The option of all who need a database; ``end`` closes its help."""
    name = variable("store_url")
    return click.option(
        "--store-url",
        default=url_from_environment,
        required=True,
        metavar="VALUE",
        help=f"The database, as for `wrung serve` ({name}, or a file {name}{FILE}){end}",
    )


store_url_option: Final = option_of_store()


@click.command(epilog=after_help("wrung doctor --store-url sqlite:///crib.db"))
@store_url_option
def doctor(store_url: str) -> None:
    """Check a store: revision, rules, damage, double promises, batches, clock, history."""
    _print_checks(done(needing_service("doctor", "examine_store"), store_url))


@click.command(
    name="verify-history",
    epilog=after_help(
        "wrung verify-history --store-url sqlite:///crib.db",
        "wrung verify-history --store-url sqlite:///crib.db --site north-hall",
    ),
)
@store_url_option
@click.option("--site", metavar="ID", help="The site whose history to check; all if left out.")
def verify_history(store_url: str, site: str | None) -> None:
    """Work every hash of the history out again, entry by entry."""
    checks = done(needing_service("verify-history", "verify_store_history"), store_url, site)
    if not checks:
        click.echo(f"wrung: there is no site {site!r}" if site else "There are no sites.", err=True)
        sys.exit(Status.REFUSED if site else Status.DONE)
    _print_checks(checks)


@click.command(
    epilog=after_help(
        "wrung backup --store-url sqlite:///crib.db crib-2027-03-01.db",
        "wrung backup --store-url postgresql://owner@db/crib crib-2027-03-01.dump",
    )
)
@store_url_option
@click.argument("target", type=click.Path(path_type=Path), metavar="FILE")
def backup(store_url: str, target: Path) -> None:
    """Copy the store into a new file, consistent even while the service writes.

    To restore SQLite: stop the service, put the copy in the database's place (without the files
    -wal and -shm of the old one), run `wrung doctor`, start. PostgreSQL: pg_restore into an empty
    database, then likewise.
    """
    done(needing_service("backup", "back_up_store"), store_url, target)
    click.echo(f"{target} is whole and on the disk.")


def done(function: Callable[..., Any], *arguments: object, **named: object) -> Any:  # noqa: ANN401 - of the extra
    """What a function of the extra returns; what it refuses ends the command with a sentence."""
    try:
        return function(*arguments, **named)
    except Exception as error:
        # By name, as the classes belong to the extra.
        if not {each.__name__ for each in type(error).__mro__} & {*_REFUSED, "StoreError"}:
            raise
        # Commands without a choice of language are for who runs the service, and speak English.
        language = click.get_current_context().params.get("language", "en")
        click.echo(f"wrung: {Spoken(language=language).refusal(in_full(error))}", err=True)
        sys.exit(Status.REFUSED)


def in_full(error: Exception) -> str:
    """What an error says, and the words of the database, if there are any."""
    lines = "\n".join((str(error), getattr(error, "words", ""))).strip().splitlines()
    return "\n  ".join(lines)


def _print_checks(checks: Any) -> None:  # noqa: ANN401 - of the extra
    for check in checks:
        click.echo(f"{'right' if check.right else 'WRONG'}  {check.name}: {check.found}")
    if not all(check.right for check in checks):
        sys.exit(Status.PARTLY)
