"""The licences of all packages that the image installs: ``python deploy/licences.py``.

Prints ``deploy/LICENCES.md`` from what the packages themselves say, as far as they are installed in
this environment; packages for other systems only are left out.
"""

import re
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, metadata
from pathlib import Path
from typing import Final

_PINS: Final = Path(__file__).parent / "constraints.txt"
_CLASSIFIER: Final = "License :: "
_LONGEST: Final = 60
"""Some packages have the whole text where its name should be."""
_HEAD: Final = """\
# Licences

What the packages of the image say of their licences; `python deploy/licences.py` in the
environment writes this page anew. wrung itself is under Apache-2.0. Debian's packages in the base
image have theirs in `/usr/share/doc`.

| package | licence |
| --- | --- |"""


def pinned() -> list[str]:
    """The names of the pinned packages, each once."""
    text = _PINS.read_text(encoding="utf-8")
    return sorted(set(re.findall(r"^([a-z0-9-]+)==", text, flags=re.MULTILINE)))


def licence_of(package: str) -> str:
    """What the package says; raises `PackageNotFoundError` where it is not installed."""
    told = metadata(package)
    stated = [*(told.get_all("License-Expression") or []), *(told.get_all("License") or [])]
    named = str(stated[0]) if stated else ""
    if named and len(named) <= _LONGEST and named != "UNKNOWN":
        return " ".join(named.split())
    classified = [e for e in told.get_all("Classifier") or [] if e.startswith(_CLASSIFIER)]
    names = [each.rpartition(" :: ")[2] for each in classified]
    return "; ".join(names) or named.partition("\n")[0][:_LONGEST] or "not stated"


def lines() -> Iterator[str]:
    """The page."""
    yield _HEAD
    for package in pinned():
        try:
            yield f"| {package} | {licence_of(package)} |"
        except PackageNotFoundError:
            continue


if __name__ == "__main__":
    for line in lines():
        print(line)
