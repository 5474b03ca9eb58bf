"""Make the pictures of the README anew: ``PYTHONPATH=tests python tests/page_pictures.py``."""

import shutil
from pathlib import Path
from typing import Final

from playwright.sync_api import sync_playwright

from e2e.processes import running

FOLDER: Final = Path(__file__).parent.parent / "service" / "pictures"
SHELF: Final = "?unit=in&set=A~inch-81~AS-1~0.05~0.05"
PICTURES: Final = {
    "phone": (SHELF + "&want=2.3146", 390, 844, "light"),
    "bench": (SHELF + "&gone=A/0.118&want=3.4482", 1280, 900, "dark"),
}


def main() -> None:
    """Write them, named by where they are looked at."""
    FOLDER.mkdir(exist_ok=True)
    with running() as server, sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        for name, (query, width, height, scheme) in PICTURES.items():
            page = browser.new_page(
                viewport={"width": width, "height": height},
                device_scale_factor=0.625 if width > height else 1,
                color_scheme="dark" if scheme == "dark" else "light",
            )
            page.goto(f"{server.address}/{query}")
            page.wait_for_load_state("networkidle")
            page.screenshot(path=FOLDER / f"{name}.png")
        browser.close()


if __name__ == "__main__":
    main()
