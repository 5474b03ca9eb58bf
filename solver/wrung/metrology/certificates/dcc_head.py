"""Who calibrated what, and when: the administrative data of a Digital Calibration Certificate."""

from typing import Final

from msgspec import Struct

from wrung.metrology.certificates.dcc_tables import DCC
from wrung.metrology.certificates.safe_xml import Element, words_of

_ISSUERS: Final = ("customer", "owner", "manufacturer", "calibrationLaboratory")
"""Whose identification of an item is taken first: the shop's own."""

_DAY: Final = len("2026-03-31")


class DccHead(Struct, frozen=True, kw_only=True):
    """Administrative data; None for what is not stated.

    Attributes:
        version: of the schema.
        certificate: unique identifier of the certificate.
        laboratory: name of the laboratory.
        calibrated_on: last day of the calibration.
        items: identification of each item by its id within the document, in order.
        item_names: what the items are called.
        signed: whether there is a signature, which is not verified here.
    """

    version: str
    certificate: str | None
    laboratory: str | None
    calibrated_on: str | None
    items: dict[str, str]
    item_names: tuple[str, ...]
    signed: bool


def read_head(root: Element) -> DccHead:
    """The administrative data of a certificate."""
    admin = root.find(f"{DCC}administrativeData")
    core = None if admin is None else admin.find(f"{DCC}coreData")
    # Drift counts from when the blocks were last measured.
    day = _text(core, "endPerformanceDate") or _text(core, "beginPerformanceDate")
    return DccHead(
        version=root.get("schemaVersion") or "",
        certificate=_text(core, "uniqueIdentifier"),
        laboratory=_text(admin, "calibrationLaboratory", "contact", "name", "content"),
        # A day may carry its offset from UTC, which says nothing here.
        calibrated_on=None if day is None else day[:_DAY],
        items=_items(admin),
        item_names=tuple(filter(None, (_text(item, "name", "content") for item in _all(admin)))),
        signed=any(child.tag.endswith("}Signature") for child in root),
    )


def _items(admin: Element | None) -> dict[str, str]:
    return {
        item.get("id") or f"#{number}": _identification(item) or f"item-{number}"
        for number, item in enumerate(_all(admin), 1)
    }


def _all(admin: Element | None) -> list[Element]:
    return [] if admin is None else admin.findall(f"{DCC}items/{DCC}item")


def _identification(item: Element) -> str | None:
    stated = item.findall(f"{DCC}identifications/{DCC}identification")
    # Backwards, so that of several by one issuer the first stays.
    by_issuer = {_text(each, "issuer"): _text(each, "value") for each in reversed(stated)}
    ordered = (*(by_issuer.get(issuer) for issuer in _ISSUERS), *by_issuer.values())
    return next((value for value in ordered if value), None)


def _text(element: Element | None, *path: str) -> str | None:
    if element is None:
        return None
    return words_of(element, "/".join(DCC + name for name in path)) or None
