"""From the bytes of a shelf to what became of it, and back; whoever asks, HTTP or a command."""

import msgspec

from wrung.names import or_nearest, repeats
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.faults import Faults
from wrung_service.api.inventory.csv_form import as_json, at_lines, read_lines, write_csv
from wrung_service.api.inventory.shapes import (
    ImportReport,
    Inventory,
    write_inventory,
    write_report,
)
from wrung_service.api.problems import Refusal, refuse_if_any
from wrung_service.api.shelf.block_body import Shared, read_blocks
from wrung_service.api.shelf.set_reading import read_set
from wrung_service.store.blocks import find_blocks
from wrung_service.store.engine import Store
from wrung_service.store.pages import Place
from wrung_service.store.sets import list_sets
from wrung_service.store.sites import get_site
from wrung_service.usecases.inventory.bring_in import BringIn, BroughtIn, bring_in
from wrung_service.usecases.inventory.certify import whole_shelf
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.shelf.keep_block import NoSuchSetError

_MOST_SETS = 1_000_000


def take_out(store: Store, site: str, *, as_csv: bool) -> bytes:
    """The whole shelf of a site, as CSV of its blocks or as JSON.

    Raises:
        UnknownError: there is no such site.
        UnavailableError: the database does not do its work now.
    """
    blocks = whole_shelf(store, site)
    if as_csv:
        return write_csv(blocks)
    with store.reading() as connection:
        sets = list_sets(connection, site, Place(limit=_MOST_SETS)).items
    return msgspec.json.encode(write_inventory(sets, blocks))


class Importer:
    """Reads shelves; made once, as its decoder takes a moment."""

    def __init__(self, most_bytes: int, prefix: str = "") -> None:
        """``prefix`` is the path that the service is shown under."""
        self._decoder, self._prefix = BodyDecoder(Inventory, {}, most_bytes), prefix

    def bring(  # noqa: PLR0913 - what an import needs
        self, store: Store, site: str, body: bytes, by: Acting, *, as_csv: bool, preview: bool
    ) -> ImportReport:
        """What became of a shelf, or would become of it.

        Raises:
            Refusal: with everything that is wrong with it.
            StoreError: whatever else stands against it.
        """
        if as_csv:
            return self.report(self.bring_csv(store, site, body, by, preview=preview))
        wanted = _read(self._decoder.decode(body), by)
        return self.report(bring(store, site, wanted, by, preview=preview))

    def bring_csv(
        self, store: Store, site: str, body: bytes, by: Acting, *, preview: bool
    ) -> BroughtIn:
        """The same of CSV, each block as it was and is.

        Raises:
            Refusal: with everything that is wrong with it.
            StoreError: whatever else stands against it.
        """
        return _from_csv(store, site, body, self._decoder, by, preview=preview)

    def report(self, done: BroughtIn) -> ImportReport:
        """As it stands on the wire."""
        return write_report(done, self._prefix)


def _from_csv(  # noqa: PLR0913 - what an import needs
    store: Store,
    site: str,
    body: bytes,
    decoder: BodyDecoder[Inventory],
    by: Acting,
    *,
    preview: bool,
) -> BroughtIn:
    lines = read_lines(body)
    with store.reading() as connection:
        get_site(connection, site)
        held = find_blocks(connection, site, lines.names)
    try:
        wanted = _read(decoder.decode(as_json(lines, held)), by)
        versions = {name: each.version for name, each in held.items()}
        wanted = BringIn(blocks=wanted.blocks, versions=versions)
        return bring(store, site, wanted, by, preview=preview)
    except Refusal as refusal:
        raise at_lines(refusal, lines) from None


def _read(body: Inventory, by: Acting) -> BringIn:
    faults = Faults()
    sets = [
        read_set(each.id, each, by.at, ("sets", index), faults)
        for index, each in enumerate(body.sets)
    ]
    for index in repeats(each.id for each in body.sets):
        faults.meaningless(f"/sets/{index}/id", f"the id {body.sets[index].id!r} is used twice")
    blocks = read_blocks(body.blocks, Shared(unit=body.unit), ("blocks",), faults)
    refuse_if_any(faults)
    return BringIn(sets=tuple(sets), blocks=blocks)


def bring(store: Store, site: str, wanted: BringIn, by: Acting, *, preview: bool) -> BroughtIn:
    """The use case, with a set that is not there said at its block."""
    order = BringIn(
        sets=wanted.sets, blocks=wanted.blocks, versions=wanted.versions, preview=preview
    )
    try:
        return bring_in(store, site, order, by)
    except NoSuchSetError as error:
        faults = Faults()
        for place in error.places:
            name = wanted.blocks[place].block.set or ""
            nearest = or_nearest(name, error.known)
            faults.meaningless(f"/blocks/{place}/set", f"there is no set {name!r}{nearest}")
        refuse_if_any(faults)
        raise
