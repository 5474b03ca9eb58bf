"""``wrung keys``: makes, lists and ends the API keys of a crib."""

import getpass
from datetime import UTC, datetime
from typing import Final

import click

from wrung_service.commands.looking_after import done, store_url_option
from wrung_service.commands.service import needing_service
from wrung_service.commands.status import after_help

_LONGEST_HOLDER: Final = 200
_SCOPES: Final = ("read", "plan", "crib", "admin")


@click.group(
    epilog=after_help(
        "wrung keys add --holder erp --scope plan --site north-hall",
        "wrung keys list",
        "wrung keys revoke abcdefgh",
    )
)
def keys() -> None:
    """API keys of the service: made here, and sent as `Authorization: Bearer KEY`.

    A holder may have two valid keys of a site, so that one can take over from the other without a
    break: add the new one, put it in place, revoke the old one.
    """


def _one_line(_: click.Context, __: click.Parameter, holder: str) -> str:
    """A name that lists of keys and history can show."""
    if not (holder.isprintable() and 1 <= len(holder.strip()) <= _LONGEST_HOLDER):
        raise click.BadParameter(f"must be 1 to {_LONGEST_HOLDER} characters in one line.")
    return holder.strip()


def _to_come(_: click.Context, __: click.Parameter, day: datetime | None) -> datetime | None:
    """A key that has ended already would open nothing."""
    if day is None:
        return None
    if (moment := day.replace(tzinfo=UTC)) <= datetime.now(UTC):
        raise click.BadParameter(f"{day:%Y-%m-%d} has begun already.")
    return moment


@keys.command()
@store_url_option
@click.option(
    "--holder",
    required=True,
    metavar="NAME",
    callback=_one_line,
    help="Who gets it: a program or a person.",
)
@click.option(
    "--scope",
    "scopes",
    type=click.Choice(_SCOPES),
    multiple=True,
    required=True,
    help="What it allows; may be repeated. read: ask, change nothing; plan: also make and end "
    "plans; crib: also keep sets and blocks, issue and return; admin: everything.",
)
@click.option("--site", metavar="ID", help="The only site that it opens; all if left out.")
@click.option(
    "--expires",
    type=click.DateTime(("%Y-%m-%d",)),
    callback=_to_come,
    help="The day (UTC) at whose start it ends.",
)
def add(
    store_url: str,
    holder: str,
    scopes: tuple[str, ...],
    site: str | None,
    expires: datetime | None,
) -> None:
    """Make a key and print it, once: only its hash is kept."""
    wanted = needing_service("keys", "WantedKey")(
        holder=holder,
        scopes=scopes,
        site=site,
        expires_at=expires,
    )
    made = done(needing_service("keys", "add_key"), store_url, wanted, whoever())
    click.echo(made.text)


@keys.command(name="list")
@store_url_option
def list_all(store_url: str) -> None:
    """Print all keys, without their secrets, the oldest first."""
    now = datetime.now(UTC)
    for key in done(needing_service("keys", "every_key"), store_url):
        state = "valid" if key.valid(now) else "ended"
        used = f"used {key.used_at:%Y-%m-%d}" if key.used_at else "never used"
        click.echo(
            f"{key.id}  {state}  {key.holder}  {key.site_id or 'every site'}  {key.scopes}  {used}"
        )


@keys.command()
@store_url_option
@click.argument("key_id", metavar="ID")
def revoke(store_url: str, key_id: str) -> None:
    """End a key at once."""
    done(needing_service("keys", "end_key"), store_url, key_id, whoever())
    click.echo(f"The key {key_id} opens nothing any more.")


def whoever() -> str:
    """The user of this machine, for history."""
    try:
        return f"user {getpass.getuser()}"
    except (KeyError, OSError):
        # In a container the user may have no name.
        return "the command line"
