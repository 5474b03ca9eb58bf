"""XML from strangers: no document type, so no entities and nothing fetched; bounded in every way.

Read by libxml2 (lxml) with its limits on. They leave a namespace of half a megabyte alone, which
then stands before the name of every element; so sizes and numbers are bounded here as well.
"""

from collections.abc import Mapping
from typing import Any, Final
from xml.etree import ElementTree as ET

from lxml import etree

from wrung.metrology.certificates.limits import (
    MOST_ATTRIBUTES,
    MOST_BYTES,
    MOST_DEPTH,
    MOST_ELEMENTS,
    MOST_NAME,
    MOST_VALUE,
)
from wrung.metrology.certificates.report import UnreadableError

Element = ET.Element

_PIECE: Final = 16_384
"""The parser is fed in pieces of this size, and reads at most one beyond what is refused."""


def parse_xml(data: bytes) -> Element:
    """The root element of a document.

    Raises:
        UnreadableError: it is not well-formed, too large, too deep, or has a document type.
    """
    if len(data) > MOST_BYTES:
        raise UnreadableError(f"is larger than {MOST_BYTES} bytes.")
    # Its stubs ask for handlers of comments and the like, which may be left out.
    guard: Any = _Guard()
    parser = etree.XMLParser(
        target=guard, resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False
    )
    try:
        for start in range(0, len(data), _PIECE):
            parser.feed(data[start : start + _PIECE])
        root: Element = parser.close()
    # Encodings that the parser does not know come as the latter two.
    except (etree.XMLSyntaxError, LookupError, ValueError) as error:
        raise UnreadableError(f"is not well-formed XML: {str(error)[:200]}.") from None
    return root


def words_of(element: Element, path: str) -> str | None:
    """The text of an element within this one, its blanks made single; None if there is none."""
    text = element.findtext(path)
    return None if text is None else " ".join(text.split())


class _Guard:
    """Builds the tree, and stops as soon as a document is not of the harmless kind."""

    def __init__(self) -> None:
        self._builder: Final = ET.TreeBuilder()
        self._depth = 0
        self._elements = 0

    def doctype(self, _name: str, _public: str | None, _system: str | None) -> None:
        raise UnreadableError("has a document type declaration, which no certificate needs.")

    def start_ns(self, prefix: str | None, uri: str | None) -> None:
        # Before the element that declares it: there the namespace stands before every name.
        if len(prefix or "") > MOST_NAME or len(uri or "") > MOST_NAME:
            raise UnreadableError(f"has a namespace of more than {MOST_NAME} characters.")

    def start(self, tag: str, attributes: Mapping[str, str]) -> Element:
        self._depth += 1
        self._elements += 1
        if self._depth > MOST_DEPTH:
            raise UnreadableError(f"is nested more than {MOST_DEPTH} deep.")
        if self._elements > MOST_ELEMENTS:
            raise UnreadableError(f"has more than {MOST_ELEMENTS} elements.")
        if len(attributes) > MOST_ATTRIBUTES:
            raise UnreadableError(f"has an element with more than {MOST_ATTRIBUTES} attributes.")
        if max(map(len, (tag, *attributes))) > 2 * MOST_NAME:
            raise UnreadableError(f"has a name of more than {MOST_NAME} characters.")
        if max(map(len, attributes.values()), default=0) > MOST_VALUE:
            raise UnreadableError(f"has an attribute of more than {MOST_VALUE} characters.")
        return self._builder.start(tag, dict(attributes))

    def end(self, tag: str) -> Element:
        self._depth -= 1
        return self._builder.end(tag)

    def data(self, text: str) -> None:
        self._builder.data(text)

    def close(self) -> Element:
        return self._builder.close()
