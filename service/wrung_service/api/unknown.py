"""Ids in a body of which there is nothing."""

from collections.abc import Sequence

from wrung_service.api.faults import Faults
from wrung_service.api.problems import refuse_if_any
from wrung_service.store.errors import UnknownError


def point_to_unknown(error: UnknownError, kind: str, places: Sequence[tuple[str, str]]) -> None:
    """Refuse the ids that a body names in vain, each where it stands, with the nearest known ones.

    Does nothing if the error is about something else, such as the address.

    Args:
        error: what the store said.
        kind: of what these places name, such as ``block``.
        places: ids and their pointers.

    Raises:
        Refusal: 422, there are such ids.
    """
    faults = Faults()
    for name, at in places:
        if error.kind == kind and name in error.names:
            faults.meaningless(at, error.said(name))
    refuse_if_any(faults)


def listed(names: Sequence[str], at: str, member: str = "") -> list[tuple[str, str]]:
    """The ids of an array and their pointers."""
    return [(name, f"{at}/{place}{member}") for place, name in enumerate(names)]
