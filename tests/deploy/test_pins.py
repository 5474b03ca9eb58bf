"""The files that pin what the image installs."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
PINS = ("deploy/constraints.txt", "deploy/build-constraints.txt")


def pinned(name: str) -> dict[str, list[Requirement]]:
    """The pins of a file by package name; a package may be pinned once for each kind of Python."""
    text = (ROOT / name).read_text(encoding="utf-8").replace("\\\n", "")
    pins: dict[str, list[Requirement]] = {}
    for line in text.splitlines():
        requirement = Requirement(line.partition(" --hash")[0].strip())
        pins.setdefault(canonicalize_name(requirement.name), []).append(requirement)
    return pins


def wanted() -> list[Requirement]:
    """What pyproject.toml asks for, for a service."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    texts = [*project["dependencies"], *project["optional-dependencies"]["service"]]
    return [Requirement(text) for text in texts]


@pytest.mark.parametrize("requirement", wanted(), ids=str)
def test_each_dependency_of_the_service_is_pinned_within_its_range(
    requirement: Requirement,
) -> None:
    pins = pinned("deploy/constraints.txt")[canonicalize_name(requirement.name)]
    versions = [str(pin.specifier).removeprefix("==") for pin in pins]
    assert all(requirement.specifier.contains(version) for version in versions), versions


@pytest.mark.parametrize("name", PINS)
def test_each_pin_is_exact_and_has_hashes(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8").replace("\\\n", "")
    for line in text.splitlines():
        assert re.match(r"[a-z0-9-]+==[0-9][^ ]* .*--hash=sha256:[0-9a-f]{64}", line), line


@pytest.mark.parametrize("name", PINS)
def test_no_pin_names_an_address(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    assert "://" not in text
    assert "--index-url" not in text
