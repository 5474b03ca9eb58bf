"""Reads what could be bought or borrowed, and remembers where each block of it was offered."""

import re
from typing import Final

from msgspec import Struct

from wrung.answers import Wanted
from wrung.compositions import composition
from wrung.errors import InputError
from wrung.lengths import Unit
from wrung_service.api.coverage.request import OfferedBlocks
from wrung_service.api.faults import Faults
from wrung_service.api.stacks.lengths import LengthReader

_POINTER: Final = re.compile(r"/offers/(?P<index>[0-9]+)(?P<member>.*)")


class Offers(Struct, frozen=True, kw_only=True):
    """The offered blocks, and for each the pointer to the member it came from."""

    blocks: tuple[Wanted, ...]
    origins: tuple[str, ...]

    def as_sent(self, at: str) -> str:
        """A pointer of the library, into ``/offers``, as a pointer into the body as sent."""
        found = _POINTER.fullmatch(at)
        if found is None:
            return at
        origin = self.origins[int(found["index"])]
        # A composition stands for many blocks, so what is wrong with one points to the whole.
        return origin + found["member"] if origin.startswith("/offers/blocks") else origin


def read_offers(sent: OfferedBlocks, unit: Unit, faults: Faults) -> Offers:
    """The blocks that are offered; what is wrong with them goes to ``faults``."""
    reader = LengthReader(faults)
    found: list[tuple[str, Wanted]] = []
    for index, block in enumerate(sent.blocks):
        of = block.unit or unit
        nominal = reader.required(block.nominal, of, ("offers", "blocks", index, "nominal"))
        wanted = Wanted(nominal=nominal, unit=of, role=block.role)
        found.append((f"/offers/blocks/{index}", wanted))
    for index, name in enumerate(sent.compositions):
        at = f"/offers/compositions/{index}"
        found += [(at, wanted) for wanted in _members(name, at, faults)]
    return Offers(
        blocks=tuple(wanted for _, wanted in found), origins=tuple(origin for origin, _ in found)
    )


def _members(name: str, at: str, faults: Faults) -> tuple[Wanted, ...]:
    try:
        offered = composition(name)
    except InputError as error:
        for fault in error.faults:
            faults.meaningless(at, fault.detail)
        return ()
    return tuple(
        Wanted(nominal=nominal, unit=offered.unit, role=offered.role)
        for nominal in offered.nominals
    )
