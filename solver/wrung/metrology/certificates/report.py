"""What an import hands back: blocks, and an account of what was read, ignored and refused."""

from collections.abc import Callable, Sequence
from functools import wraps
from typing import Final, Literal, ParamSpec, TypeAlias, TypeVar

from msgspec import Struct

from wrung.blocks import Block
from wrung.metrology.certificates.limits import MOST_REMARKS

P = ParamSpec("P")
T = TypeVar("T")

Format: TypeAlias = Literal["json", "csv", "dcc"]
"""JSON or CSV in the form of the guide, or a Digital Calibration Certificate (XML)."""


class Remark(Struct, frozen=True, kw_only=True):
    """Something about the document.

    Attributes:
        location: the place: ``line 4, deviation``, ``/blocks/3/id`` or a path of elements.
        text: what about it, in a sentence.
    """

    location: str
    text: str


NO_DUE_DATE: Final = Remark(
    location="the due date",
    text="is not stated in such a certificate; the blocks have none unless you set it.",
)


def few(found: Sequence[T], remark_of: Callable[[T], Remark]) -> tuple[Remark, ...]:
    """Remarks on the first of what was found, and how much more there is."""
    remarks = tuple(remark_of(each) for each in found[:MOST_REMARKS])
    if len(found) <= MOST_REMARKS:
        return remarks
    more = f"has {len(found) - MOST_REMARKS} more such places."
    return (*remarks, Remark(location="the document", text=more))


class CertificateImport(Struct, frozen=True, kw_only=True):
    """A document that was read, as a whole or not at all.

    Attributes:
        format: what it was read as.
        blocks: the certified blocks; empty if anything was refused.
        read: how many blocks could be read, refused documents included.
        remarks: what the user should know of an import that went well.
        ignored: what else the document contains and is not used.
        refused: why nothing was imported; empty if all was.
    """

    format: Format
    blocks: tuple[Block, ...] = ()
    read: int = 0
    remarks: tuple[Remark, ...] = ()
    ignored: tuple[Remark, ...] = ()
    refused: tuple[Remark, ...] = ()

    @property
    def accepted(self) -> bool:
        """Whether the document was imported, which is always as a whole."""
        return not self.refused


class UnreadableError(Exception):
    """A document cannot be read at all; says why and where."""

    def __init__(self, text: str, where: str = "the document") -> None:
        super().__init__(text)
        self.text = text
        self.where = where


def refusing(
    document: Format,
) -> Callable[[Callable[P, CertificateImport]], Callable[P, CertificateImport]]:
    """Let a function that reads a format hand back a refusal where it raises `UnreadableError`."""

    def decorated(read: Callable[P, CertificateImport]) -> Callable[P, CertificateImport]:
        @wraps(read)
        def checked(*args: P.args, **kwargs: P.kwargs) -> CertificateImport:
            try:
                return read(*args, **kwargs)
            except UnreadableError as error:
                refused = Remark(location=error.where, text=error.text)
                return CertificateImport(format=document, refused=(refused,))

        return checked

    return decorated
