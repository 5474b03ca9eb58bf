"""XML from strangers: no document type, so no entities and nothing fetched; bounded in every way.

Without a document type declaration, XML has no entities but the five that are built in, and no
external part. The declaration is refused before anything in it is looked at.
"""

from typing import Final
from xml.etree import ElementTree as ET

from wrung.metrology.certificates.limits import MOST_BYTES, MOST_DEPTH, MOST_ELEMENTS

Element = ET.Element


class RefusedXmlError(Exception):
    """The document is no XML, or not of the harmless kind; says why."""


def parse_xml(data: bytes) -> Element:
    """The root element of a document.

    Raises:
        RefusedXmlError: it is not well-formed, too large, too deep, or has a document type.
    """
    if len(data) > MOST_BYTES:
        raise RefusedXmlError(f"is larger than {MOST_BYTES} bytes.")
    parser = ET.XMLParser(target=_Guard())  # noqa: S314 - the guard refuses document types
    try:
        parser.feed(data)
        root: Element = parser.close()
    # Encodings that the parser does not know come as the latter two.
    except (ET.ParseError, LookupError, ValueError) as error:
        raise RefusedXmlError(f"is not well-formed XML: {error}.") from None
    return root


class _Guard:
    """Builds the tree, and stops as soon as a document is not of the harmless kind."""

    def __init__(self) -> None:
        self._builder: Final = ET.TreeBuilder()
        self._depth = 0
        self._elements = 0

    def doctype(self, _name: str, _public: str | None, _system: str | None) -> None:
        raise RefusedXmlError("has a document type declaration, which a certificate needs not.")

    def start(self, tag: str, attributes: dict[str, str]) -> Element:
        self._depth += 1
        self._elements += 1
        if self._depth > MOST_DEPTH:
            raise RefusedXmlError(f"is nested more than {MOST_DEPTH} deep.")
        if self._elements > MOST_ELEMENTS:
            raise RefusedXmlError(f"has more than {MOST_ELEMENTS} elements.")
        return self._builder.start(tag, attributes)

    def end(self, tag: str) -> Element:
        self._depth -= 1
        return self._builder.end(tag)

    def data(self, text: str) -> None:
        self._builder.data(text)

    def close(self) -> Element:
        return self._builder.close()
