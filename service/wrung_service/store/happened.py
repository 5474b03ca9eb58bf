"""What happened, before anybody writes it down or sends it to anybody."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from msgspec import Struct


class Event(Struct, frozen=True, kw_only=True):
    """What happened.

    Attributes:
        what: such as ``plan.made`` or ``block.condition``: kind, then what was done.
        kind: what it is about: ``site``, ``set``, ``block``, ``plan``, ``loan``, ``key``, ...
        subject: the id of that.
        why: the reason somebody gave.
        job: the job that it belongs to, if any.
        detail: figures as they are now, of JSON's types only.
    """

    site: str
    at: datetime
    who: str
    what: str
    kind: str
    subject: str
    why: str | None = None
    job: str | None = None
    detail: Mapping[str, Any] = {}
