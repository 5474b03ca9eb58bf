"""From flags and the environment to the settings, and what is wrong with them."""

import ipaddress
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Final, get_args

import msgspec
from msgspec.structs import FieldInfo

from wrung.json_reasons import reason
from wrung_service.settings import Settings

PREFIX: Final = "WRUNG_"
FILE: Final = "_FILE"

_ORIGIN: Final = re.compile(r"\*|https?://[A-Za-z0-9.\[\]:-]+")
_PUBLIC: Final = re.compile(r"https?://[A-Za-z0-9.\[\]:-]+(/[A-Za-z0-9._~-]+)*")
_CONTACT: Final = re.compile(r"[^@:\s]+@[^@:\s]+|https?://\S+")
_STORE: Final = re.compile(r"sqlite:///(?!:memory:).|postgres(ql)?://")
_JWKS: Final = re.compile(r"https://\S+|http://(127\.[0-9.]+|localhost|\[::1\])[:/]\S*")


class SettingsError(Exception):
    """One or more settings are wrong; ``faults`` has a sentence for each."""

    def __init__(self, faults: Iterable[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(self.faults))


def variable(name: str) -> str:
    """The environment variable of a setting."""
    return PREFIX + name.upper()


def flag(name: str) -> str:
    """The flag of a setting."""
    # Only variables can clash with those of an orchestrator, so flags go without ``bind_``.
    return f"--{name.removeprefix('bind_').replace('_', '-')}"


def _both(name: str) -> str:
    """How messages name a setting: nobody should have to guess which of the two it was."""
    return f"{flag(name)} ({variable(name)})"


def _wrong(field: FieldInfo, error: msgspec.ValidationError) -> str:
    """What a setting must be, in the words of whoever sets it."""
    if choices := [each for each in get_args(get_args(field.type)[0]) if each]:
        return f"must be {' or '.join(choices)}"
    if field.name == "path_prefix":
        return "must be a path such as /tools/wrung, without a slash at its end"
    # Flags and variables are always text.
    return reason(error).removesuffix(", not a string")


def read_settings(environment: Mapping[str, str], flags: Mapping[str, str]) -> Settings:
    """Read the settings; a flag, named as the setting, overrides the environment.

    Raises:
        SettingsError: with everything that is wrong, not only the first.
    """
    values: dict[str, object] = {}
    faults: list[str] = []
    for field in msgspec.structs.fields(Settings):
        name = field.name
        try:
            given = flags[name] if name in flags else from_environment(name, environment)
            if given is None:
                continue
            # Not strict, because variables and flags are always text.
            values[name] = msgspec.convert(given, field.type, strict=False)
        except msgspec.ValidationError as error:
            faults.append(f"{_both(name)}: {_wrong(field, error)}")
        except SettingsError as error:
            faults.extend(error.faults)
    if faults:
        raise SettingsError(faults)
    settings = msgspec.convert(values, Settings)
    # Only now, with the defaults filled in, can one setting be held against another.
    if faults := list(_contradictions(settings)):
        raise SettingsError(faults)
    return settings


def from_environment(name: str, environment: Mapping[str, str]) -> str | None:
    """What a variable says of a setting, or the file that ``variable(name)_FILE`` names.

    Orchestrators hand out secrets as files: variables are seen by whoever looks at the container.

    Raises:
        SettingsError: both are there, or the file cannot be read.
    """
    path = environment.get(variable(name) + FILE)
    value = environment.get(variable(name))
    if path is None:
        return value
    if value is not None:
        raise SettingsError([f"{variable(name)} and {variable(name)}{FILE}: only one of them"])
    try:
        return Path(path).read_text(encoding="utf-8").strip()
    except (OSError, UnicodeError) as error:
        raise SettingsError([f"{variable(name)}{FILE}: {path}: {error}"]) from None


def unknown_variables(environment: Mapping[str, str]) -> list[str]:
    """Variables with our prefix that set nothing: a typing mistake, or not meant for us."""
    known = {variable(name) for name in Settings.__struct_fields__}
    ours = (name for name in environment if name.startswith(PREFIX))
    return sorted(name for name in ours if name.removesuffix(FILE) not in known)


def _contradictions(settings: Settings) -> Iterable[str]:
    if settings.default_time_limit_ms > settings.max_time_limit_ms:
        yield (
            f"{_both('default_time_limit_ms')}: greater than "
            f"{_both('max_time_limit_ms')}, which is {settings.max_time_limit_ms}"
        )
    for proxy in settings.proxies:
        if not _is_network(proxy):
            yield f"{_both('trusted_proxies')}: {proxy!r} is no address and no network"
    for network in settings.allowed_networks:
        if not _is_network(network):
            yield f"{_both('webhook_networks')}: {network!r} is no address and no network"
    for origin in settings.origins:
        if not _ORIGIN.fullmatch(origin):
            yield f"{_both('cors_origins')}: {origin!r} is no origin such as https://erp.example"
    if settings.store_url and not _STORE.match(settings.store_url):
        # Not quoted: it may hold a password.
        yield f"{_both('store_url')}: must begin with sqlite:/// and a file, or postgresql://"
    yield from _access_faults(settings)
    yield from _shown_faults(settings)


def _shown_faults(settings: Settings) -> Iterable[str]:
    """Of what others get to see of this instance."""
    if settings.public_url and not _PUBLIC.fullmatch(settings.public_url):
        yield (
            f"{_both('public_url')}: {settings.public_url!r} is no address such as "
            "https://crib.example/wrung, without a slash at its end"
        )
    if settings.contact and not _CONTACT.fullmatch(settings.contact):
        yield f"{_both('contact')}: is neither an e-mail address nor begins with https://"


def _access_faults(settings: Settings) -> Iterable[str]:
    oauth = (settings.oauth_issuer, settings.oauth_jwks_url, settings.oauth_audience)
    if any(oauth) and not all(oauth):
        names = ", ".join(map(_both, ("oauth_issuer", "oauth_jwks_url", "oauth_audience")))
        yield f"{names}: all three or none"
    if settings.oauth_jwks_url and not _JWKS.match(settings.oauth_jwks_url):
        yield f"{_both('oauth_jwks_url')}: must begin with https://, or be on loopback"
    if settings.access == "required" and not settings.store_url and not any(oauth):
        yield f"{_both('access')}: required, but there is no store for keys, and no issuer"
    if settings.access != "required" and any(oauth):
        yield f"{_both('access')}: must be required for the tokens of an issuer to count"
    if settings.store_url and not settings.access and not is_loopback(settings.bind_host):
        yield (
            f"{_both('access')}: must be said, as the service has a store and would listen on "
            f"{settings.bind_host}, where others reach it: required, or off where something in "
            "front of it controls access"
        )


def is_loopback(host: str) -> bool:
    """Whether only this machine reaches that address."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _is_network(text: str) -> bool:
    try:
        ipaddress.ip_network(text)
    except ValueError:
        return False
    return True
