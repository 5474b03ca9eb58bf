"""Addresses as QR codes (ISO/IEC 18004), to be read off a card."""

import io
from typing import Final

LARGEST_WITHOUT_CRIB: Final = 6
"""Version of a code; a larger one is hard to read off a card at the bench."""
_BORDER: Final = 2


def code_of(address: str, largest: int | None = None) -> str:
    """The code as SVG, of error class M; empty if there is no address, or it does not fit.

    Args:
        address: what the code says.
        largest: the largest version that will do; any if left out.
    """
    if not address:
        return ""
    # Only here: it takes a while to load, and few services print codes.
    import segno  # noqa: PLC0415

    try:
        made = segno.make(address, error="m", micro=False, boost_error=False)
    except segno.DataOverflowError:
        return ""
    if largest is not None and int(made.version) > largest:
        return ""
    written = io.BytesIO()
    made.save(written, kind="svg", border=_BORDER, xmldecl=False, omitsize=True, light="#fff")
    return written.getvalue().decode()
