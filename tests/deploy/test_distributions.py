"""What a source distribution and a wheel hold, by building them."""

import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

import wrung

pytest.importorskip("hatchling", reason="the build backend is not installed; extra `test` has it")
ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("dist")
    command = [sys.executable, "-m", "hatchling", "build", "--directory", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)  # noqa: S603 -- our own
    return folder


def test_the_source_distribution_has_the_code_and_no_tests(built: Path) -> None:
    (path,) = built.glob("*.tar.gz")
    with tarfile.open(path) as archive:
        names = [name.partition("/")[2] for name in archive.getnames()]

    tops = {name.partition("/")[0] for name in names}
    assert path.name == f"wrung-{wrung.__version__}.tar.gz"
    assert {"solver/wrung/__init__.py", "service/wrung_service/app.py", "README.md"} <= set(names)
    assert "solver/wrung/data/compositions.toml" in names
    assert not tops & {"tests", "examples", "deploy", ".ci"}
    assert not [name for name in names if "test_" in name]


def test_the_wheel_has_both_packages_and_the_command(built: Path) -> None:
    (path,) = built.glob("*.whl")
    with zipfile.ZipFile(path) as archive:
        names = archive.namelist()
        (entries,) = [name for name in names if name.endswith("entry_points.txt")]
        commands = archive.read(entries).decode()

    tops = {name.partition("/")[0] for name in names}
    assert tops == {"wrung", "wrung_service", f"wrung-{wrung.__version__}.dist-info"}
    assert {"wrung/py.typed", "wrung/data/texts/de.toml"} <= set(names)
    assert "wrung = wrung_service.__main__:main" in commands
