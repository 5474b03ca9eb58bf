"""Pictures of every page of the guide, to be looked at: narrow and wide, light and dark, on paper.

Run it as ``python tests/guide_pictures.py FOLDER`` while ``make serve`` runs. It needs Chromium;
``pdftoppm -r 50 -png PAGE.pdf PAGE`` then shows the paper.
"""

import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Final

from wrung_service.api.guide.contents import PAGES

GUIDE: Final = "http://127.0.0.1:8000/guide/"
QUIET: Final = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
    "--hide-scrollbars",
)


def main(folder: Path, guide: str = GUIDE) -> None:
    """Write a picture for each page, width and colour scheme, and a PDF for each page."""
    folder.mkdir(parents=True, exist_ok=True)
    for page in ("", *PAGES):
        name = page or "start"
        for width in (390, 1280):
            for place, scheme in enumerate(("dark", "light")):
                picture = folder / f"{name}-{width}-{scheme}.png"
                look = f"--blink-settings=preferredColorScheme={place}"
                chromium(
                    look, f"--window-size={width},3200", f"--screenshot={picture}", guide + page
                )
        chromium("--no-pdf-header-footer", f"--print-to-pdf={folder / f'{name}.pdf'}", guide + page)


def chromium(*arguments: str) -> None:
    """Start it once, with a profile of its own."""
    with tempfile.TemporaryDirectory() as profile:
        command = ["chromium", *QUIET, f"--user-data-dir={profile}", *arguments]
        subprocess.run(command, check=True, capture_output=True, timeout=120)  # noqa: S603 - our own


if __name__ == "__main__":
    main(Path(sys.argv[1]), *sys.argv[2:])
