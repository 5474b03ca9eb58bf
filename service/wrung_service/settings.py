"""What an operator can set: environment variables, or flags that override them."""

import os
from collections.abc import Iterable, Mapping
from typing import Annotated, Final, TypeAlias

import msgspec
from msgspec import Meta, Struct

PREFIX: Final = "WRUNG_"

Count: TypeAlias = Annotated[int, Meta(ge=1)]


def _usable_cpus() -> int:
    """CPUs that this process may use; a container's quota is not seen, so set the workers there."""
    # Not every system can tell: macOS and Windows cannot.
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity else os.cpu_count() or 1


class Limits(Struct, frozen=True, kw_only=True):
    """What this service accepts at most; the part of the settings that it publishes."""

    max_body_bytes: Annotated[Count, Meta(description="largest request body, bytes")] = 1_048_576
    max_blocks: Annotated[
        Count, Meta(description="most blocks in a request, those of its sets included")
    ] = 1000
    max_targets: Annotated[Count, Meta(description="most targets in a request")] = 100
    max_time_limit_ms: Annotated[
        Count, Meta(description="longest time limit that a request may ask for, ms")
    ] = 60_000
    default_time_limit_ms: Annotated[
        Count, Meta(description="time limit of a request that states none, ms")
    ] = 2000
    queue_length: Annotated[
        int, Meta(ge=0, description="most requests that wait for a free solve worker")
    ] = 16
    solve_workers: Annotated[
        Count, Meta(description="searches that run at one time; the usable CPUs by default")
    ] = msgspec.field(default_factory=_usable_cpus)


class Settings(Limits, frozen=True, kw_only=True):
    """All settings, each with a default that suits one machine on its own.

    The names are not ``HOST`` and ``PORT``, because an orchestrator sets ``WRUNG_PORT`` to an
    address of its own for a service that is called wrung.
    """

    bind_host: Annotated[
        str, Meta(min_length=1, description="address to listen on, loopback by default")
    ] = "127.0.0.1"
    bind_port: Annotated[
        int, Meta(ge=0, le=65535, description="port to listen on; 0 takes a free one")
    ] = 8000
    drain_seconds: Annotated[
        float,
        Meta(ge=0, le=600, description="time between turning unready and closing the port, s"),
    ] = 0.0
    grace_seconds: Annotated[
        float, Meta(ge=1, le=600, description="time for requests in flight to end after that, s")
    ] = 25.0

    @property
    def limits(self) -> Limits:
        """The part that is published."""
        return Limits(**{name: getattr(self, name) for name in Limits.__struct_fields__})


class SettingsError(Exception):
    """One or more settings are wrong; ``faults`` has a sentence for each."""

    def __init__(self, faults: Iterable[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(self.faults))


def variable(name: str) -> str:
    """The environment variable of a setting."""
    return PREFIX + name.upper()


def read_settings(environment: Mapping[str, str], flags: Mapping[str, str]) -> Settings:
    """Read the settings; a flag, named as the setting, overrides the environment.

    Raises:
        SettingsError: with everything that is wrong, not only the first.
    """
    values: dict[str, object] = {}
    faults: list[str] = []
    for field in msgspec.structs.fields(Settings):
        given = flags.get(field.name, environment.get(variable(field.name)))
        if given is None:
            continue
        try:
            # Not strict, because variables and flags are always text.
            values[field.name] = msgspec.convert(given, field.type, strict=False)
        except msgspec.ValidationError as error:
            faults.append(f"{variable(field.name)}: {error}")
    if faults:
        raise SettingsError(faults)
    settings = msgspec.convert(values, Settings)
    # Only now, with the defaults filled in, can one setting be held against another.
    if faults := list(_contradictions(settings)):
        raise SettingsError(faults)
    return settings


def unknown_variables(environment: Mapping[str, str]) -> list[str]:
    """Variables with our prefix that set nothing: a slip of the pen, or not meant for us."""
    known = {variable(name) for name in Settings.__struct_fields__}
    return sorted(name for name in environment if name.startswith(PREFIX) and name not in known)


def _contradictions(settings: Settings) -> Iterable[str]:
    if settings.default_time_limit_ms > settings.max_time_limit_ms:
        yield (
            f"{variable('default_time_limit_ms')}: greater than "
            f"{variable('max_time_limit_ms')} ({settings.max_time_limit_ms})"
        )
