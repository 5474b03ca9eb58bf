"""Everything that has to hold before a version is released, and everything that is given out.

    make release
    python deploy/release.py [--out FOLDER] [--without CHECK ...] [OPTIONS]

Builds wheel, source distribution, image, its SBOM, chart and document into a folder, with their
hashes, and prints for each check whether it holds. It ends with 1 if one does not; what was left
out is said, too, and is no release. Options that are not named here go to the build of the image,
such as --build-arg=BASE_IMAGE=python:3.13-slim@sha256:... to pin its base.
"""

import argparse
import hashlib
import json
import re
import shutil
import subprocess
import sys
import venv
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import yaml

import wrung

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from bench.server import running
from contract.compatibility import breaking_changes

ROOT: Final = Path(__file__).parents[1]
CHART: Final = ROOT / "deploy" / "helm" / "wrung"
VERSION: Final = wrung.__version__


class NotReadyError(Exception):
    """Why a check does not hold."""


def main() -> int:
    """All checks, whatever the others say."""
    arguments, options = _parser().parse_known_args()
    checks: dict[str, Callable[[Path], str]] = {**CHECKS, "image": partial(image, options=options)}
    shutil.rmtree(arguments.out, ignore_errors=True)
    arguments.out.mkdir(parents=True)
    failed = False
    for name, check in checks.items():
        if name in arguments.without:
            print(f"left out  {name}")
            continue
        try:
            print(f"holds     {name}: {check(arguments.out)}", flush=True)
        except (NotReadyError, RuntimeError) as error:
            failed = True
            print(f"FAILS     {name}: {error}", flush=True)
    return int(failed or bool(arguments.without))


def commit(_: Path) -> str:
    """Nothing is built that is not in a commit, and no version twice."""
    if changed := _run("git", "status", "--porcelain"):
        raise NotReadyError(f"not in a commit: {', '.join(changed.split()[1::2])}")
    if _run("git", "tag", "--list", f"v{VERSION}"):
        raise NotReadyError(f"there is a tag v{VERSION} already")
    return _run("git", "rev-parse", "HEAD")


def versions(_: Path) -> str:
    """One version, everywhere."""
    packed = yaml.safe_load(_read(CHART / "Chart.yaml"))
    found = {f"Chart.yaml {name}": packed[name] for name in ("version", "appVersion")}
    found["openapi.json"] = json.loads(_read(ROOT / "service" / "openapi.json"))["info"]["version"]
    if wrong := {name: version for name, version in found.items() if version != VERSION}:
        raise NotReadyError(f"solver/wrung/__init__.py says {VERSION}, but {wrong}")
    return VERSION


def changelog(_: Path) -> str:
    """It says what is new, under the version and the day, and leaves nothing unreleased."""
    text = _read(ROOT / "CHANGELOG.md")
    heading = re.search(rf"^## \[{re.escape(VERSION)}\] - \d{{4}}-\d\d-\d\d$", text, re.MULTILINE)
    if heading is None:
        raise NotReadyError(f"CHANGELOG.md has no heading '## [{VERSION}] - YYYY-MM-DD'")
    unreleased = text[: heading.start()].partition("## [Unreleased]")[2].strip()
    if unreleased:
        raise NotReadyError("something is left under [Unreleased]")
    return heading[0].removeprefix("## ")


def document(out: Path) -> str:
    """It is that of the service, breaks no client of the version before, and is compared next."""
    made = _printed((sys.executable, "-m", "wrung_service", "openapi"))
    for place in ("service/openapi.json", "tests/contract/released.json"):
        if _read(ROOT / place) != made:
            raise NotReadyError(f"{place} is not what `wrung openapi` prints")
    before: Any = json.loads(
        _run("git", "show", f"{version_before()}:tests/contract/released.json")
    )
    if broken := breaking_changes(before, json.loads(made)):
        raise NotReadyError(f"clients of {before['info']['version']} break: {'; '.join(broken)}")
    path = out / f"wrung-{VERSION}.openapi.json"
    path.write_text(made, encoding="utf-8")
    return f"{path.name}, breaks no client of {before['info']['version']}"


def distributions(out: Path) -> str:
    """They are built, and the wheel solves and serves with the pinned packages and no others."""
    _run(sys.executable, "-m", "hatchling", "build", "--directory", str(out))
    wheel, source = out / f"wrung-{VERSION}-py3-none-any.whl", out / f"wrung-{VERSION}.tar.gz"
    with TemporaryDirectory() as folder:
        venv.create(folder, with_pip=True)
        pip = (f"{folder}/bin/python", "-m", "pip", "install", "--quiet", "--no-deps")
        _run(*pip, "--require-hashes", "--requirement", str(ROOT / "deploy" / "constraints.txt"))
        _run(*pip, str(wheel))
        said = _run(f"{folder}/bin/wrung", "--version")
        if said != f"wrung {VERSION}":
            raise NotReadyError(f"the wheel says {said}")
        _run(f"{folder}/bin/wrung", "solve", str(ROOT / "examples" / "requests" / "optimal.json"))
        # It returns once the service has said that it is ready.
        with running(python=f"{folder}/bin/python"):
            pass
    return f"{wheel.name}, {source.name}"


def image(out: Path, options: Sequence[str] = ()) -> str:
    """It is built, keeps its limits, and brings its SBOM."""
    name, sbom = f"wrung:{VERSION}", str(out / f"wrung-{VERSION}.cdx.json")
    build = (sys.executable, "-m", "tests.bench.image", "--image", name, "--sbom", sbom)
    return f"{name} {_run(*build, *options).splitlines()[-1]}"


def chart(out: Path) -> str:
    """It is valid for several versions of Kubernetes, and packed."""
    _run(sys.executable, "-m", "tests.bench.helm_chart")
    _run("helm", "package", str(CHART), "--destination", str(out))
    return f"wrung-{VERSION}.tgz"


def upgrade(_: Path) -> str:
    """Stores of every older revision, and of the version before, are taken to this one."""
    command = (sys.executable, "-m", "tests.bench.upgrade")
    said, before = _run(*command), _run("git", "log", "-1", "--format=%h", version_before())
    if f"| {before}, " not in said:
        said += f"\n{_run(*command, '--old', before)}"
    rows = (row for row in said.splitlines() if re.match(r"\| [0-9a-f]+,", row))
    return "; ".join(row.strip("| ") for row in rows)


def sums(out: Path) -> str:
    """What is given out can be compared."""
    files = sorted(path for path in out.iterdir() if path.is_file())
    lines = [f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.name}\n" for path in files]
    (out / "SHA256SUMS").write_text("".join(lines), encoding="ascii")
    return f"{len(files)} files"


def version_before() -> str:
    """The commit of the version before: its tag, else what wrote its heading in CHANGELOG.md."""
    versions = re.findall(r"^## \[(\d[^]]*)\] - ", _read(ROOT / "CHANGELOG.md"), re.MULTILINE)
    older = [each for each in versions if each != VERSION]
    if not older:
        raise NotReadyError("CHANGELOG.md has no version before")
    if tagged := _run("git", "tag", "--list", f"v{older[0]}"):
        return tagged
    wrote = _run("git", "log", "--format=%H", f"-S## [{older[0]}] - ", "--", "CHANGELOG.md")
    if not wrote:
        raise NotReadyError(f"the history of this clone has no {older[0]}")
    return wrote.splitlines()[-1]


CHECKS: Final[dict[str, Callable[[Path], str]]] = {
    each.__name__: each
    for each in (
        *(commit, versions, changelog, document),
        *(distributions, image, chart, upgrade, sums),
    )
}


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--out", type=Path, default=ROOT / "dist", help="emptied first")
    parser.add_argument("--without", nargs="*", default=[], choices=CHECKS, metavar="CHECK")
    return parser


def _read(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def _run(*command: str) -> str:
    """What it prints; the check fails with its last words where it fails."""
    return _printed(command).strip()


def _printed(command: Sequence[str]) -> str:
    if shutil.which(command[0]) is None:
        raise NotReadyError(f"{command[0]} is not installed")
    done = subprocess.run(  # noqa: S603 - our own arguments
        command, cwd=ROOT, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise NotReadyError((done.stderr or done.stdout).strip()[-500:])
    return done.stdout


if __name__ == "__main__":
    sys.exit(main())
