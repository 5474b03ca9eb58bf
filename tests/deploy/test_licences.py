"""The page of licences has every package that the image installs, and none that binds a user."""

import re
import runpy
from pathlib import Path
from typing import Any

DEPLOY = Path(__file__).parents[2] / "deploy"
PAGE = (DEPLOY / "LICENCES.md").read_text(encoding="utf-8")
LISTED = dict(re.findall(r"^\| ([a-z0-9][a-z0-9-]*) \| (.+) \|$", PAGE, flags=re.MULTILINE))
MAKER: dict[str, Any] = runpy.run_path(str(DEPLOY / "licences.py"))


def test_every_package_that_is_installed_here_is_on_the_page() -> None:
    """Pins for other systems are not installed, so nobody can ask them."""
    made = "\n".join(MAKER["lines"]())
    installed = re.findall(r"^\| ([a-z0-9][a-z0-9-]*) \|", made, flags=re.MULTILINE)
    assert len(installed) > 50
    assert set(installed) <= {*LISTED, "package"}
    assert LISTED.keys() <= {*MAKER["pinned"](), "package"}


def test_no_licence_is_unknown_or_binds_who_builds_on_wrung() -> None:
    """The lesser GPL of the driver is met by its being a package of its own."""
    for package, licence in LISTED.items():
        assert licence != "not stated", package
        assert not re.search(r"(?<!L)\bA?GPL", licence), package
