"""Reads the lengths of one request and gathers what is wrong with them."""

from msgspec import Raw, UnsetType

from wrung.errors import LengthError
from wrung.lengths import AnyUnit, parse
from wrung_service.api.faults import Faults, Path, pointer
from wrung_service.api.wire_lengths import LENGTH, NotALengthError, Shape

_PLACEHOLDER = 1  # stands for a length that was refused, so that reading goes on


class LengthReader:
    """From wire lengths to quanta; a fault never stops the reading."""

    def __init__(self, faults: Faults) -> None:
        self._faults = faults

    def text(self, raw: Raw) -> str:
        """The client's text of a length; empty if it was refused, which `required` notes."""
        try:
            return LENGTH.text(raw) or ""
        except NotALengthError:
            return ""

    def required(self, raw: Raw, unit: AnyUnit, path: Path) -> int:
        """A length that must be there, quanta."""
        quanta = self.optional(raw, unit, path, LENGTH)
        return _PLACEHOLDER if quanta is None else quanta

    def optional(self, raw: Raw | UnsetType, unit: AnyUnit, path: Path, shape: Shape) -> int | None:
        """A length that may be left out, quanta."""
        if isinstance(raw, UnsetType):
            return None
        try:
            text = shape.text(raw)
            return None if text is None else parse(text, unit, signed=shape.signed)
        except NotALengthError as error:
            self._faults.invalid(path, str(error))
        except LengthError as error:
            self._faults.meaningless(pointer(path), str(error))
        return None
