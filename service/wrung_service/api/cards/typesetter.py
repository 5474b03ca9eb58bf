"""Sets one document and ends: `python typesetter.py TEMPLATE FONTS FORMAT PAGE`.

What stands in it comes as JSON on standard input; the PDF, or that page as PNG, goes to standard
output, and nothing if there is no such page. It is a process of its own because the compiler keeps
what it has laid out, megabytes a card, and some of that for good.
"""

import signal
import sys
from pathlib import Path
from typing import Final, Literal

import typst

_PPI: Final = 200
_NO_PAGE: Final = "no such page"
"""As the template says it."""


def main() -> None:
    """As the arguments say."""
    # These are for the service, which lets requests come to their end; some supervisors send them
    # to all processes of a service.
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        if hasattr(signal, name):  # Windows has no SIGHUP
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    template, fonts, media, page = sys.argv[1:]
    made = _compiled(Path(template), fonts, "png" if media == "png" else "pdf")
    pages = [made] if isinstance(made, bytes) else made
    sys.stdout.buffer.write(b"".join(pages[int(page) - 1 : int(page)]))


def _compiled(template: Path, fonts: str, media: Literal["pdf", "png"]) -> bytes | list[bytes]:
    # The fonts that are shipped, here and with the compiler, and none of the machine's.
    shipped = typst.Fonts(include_system_fonts=False, font_paths=[fonts])
    try:
        return typst.compile(
            template.read_bytes(), format=media, ppi=_PPI, font_paths=shipped, timestamp=0,
            sys_inputs={"data": sys.stdin.buffer.read().decode()},
        )  # fmt: skip
    except typst.TypstError as refused:
        if _NO_PAGE in str(refused):
            return []
        raise


if __name__ == "__main__":
    main()
