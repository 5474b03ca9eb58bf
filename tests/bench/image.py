"""Build the container image, run it as a cluster would, and measure it.

    python -m tests.bench.image [--image NAME] [--built] [--sbom FILE] [--if-possible] [OPTIONS]

Options that are not named here go to the engine's build.

It runs with a read-only root, without capabilities and with the published memory, answers, sets a
card, and is told to end; it migrates a store and works for it. It fails if anything of that does
not work, or if the image is larger or slower than `LIMITS`. With --if-possible it does nothing, and
says why, where no engine runs or where the base image is neither here nor to be had. Linux only.
"""

import argparse
import json
import os
import re
import subprocess
import sys
import tarfile
import time
import zlib
from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager
from http.client import HTTPConnection
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO, Final

from wrung import __version__

from .container import HARDENED, Container, ask_engine, engine, exit_code, run, serving
from .memory import published_mb
from .server import cpu_seconds

ROOT: Final = Path(__file__).parents[2]
LIMITS: Final = {"MB": 520.0, "MB compressed": 200.0, "start, CPU s": 2.0}
"""CPU time, as other work on the machine must not fail it; elapsed time is printed beside it."""
LABELS: Final = ("title", "description", "licenses", "version", "revision", "created", "base.name")
_WORKERS: Final = 2
_STARTS: Final = 3
_MOST_PULL_S: Final = 120
_HELD: Final = {"CapEff": "0000000000000000", "NoNewPrivs": "1", "Seccomp": "2"}
"""What the kernel says of the first process: no capability, no new one, system calls filtered."""
_SHOW: Final = ("--rm", "--network", "none", "--entrypoint")
_REQUEST: Final = {
    "unit": "in",
    "sets": [{"id": "a", "composition": "inch-81", "grade": "AS-1"}],
    "targets": [{"ref": "op10", "kind": "length", "length": "0.9412"}],
}


def main() -> None:
    """Build, run, measure, judge."""
    arguments, options = _parser().parse_known_args()
    if arguments.if_possible and (reason := _reason_against()):
        print(f"The image was not built: {reason}.")
        return
    if not arguments.built:
        build(arguments.image, options)
    found = dict(_figures(arguments.image))
    print("| " + " | ".join(found) + " |\n|" + " ---: |" * len(found))
    print("| " + " | ".join(f"{value:.4g}" for value in found.values()) + " |")
    over = [name for name, most in LIMITS.items() if found[name] > most]
    sbom = run(*_SHOW, "cat", arguments.image, "/usr/share/sbom/wrung.cdx.json")
    if arguments.sbom:
        arguments.sbom.write_text(sbom, encoding="utf-8")
    faults = [*_faults_of_labels(arguments.image), *_faults_of_sbom(arguments.image, sbom), *over]
    if faults:
        sys.exit(f"not as it should be: {', '.join(faults)}")


def build(image: str, options: list[str]) -> None:
    """Build it from this clone; what it is made from stands in its labels."""
    commit, when = _git("rev-parse", "HEAD"), _git("log", "-1", "--format=%cI")
    said = {"VERSION": __version__, "REVISION": commit, "CREATED": when}
    arguments = [f"--build-arg={name}={value}" for name, value in said.items()]
    command = [engine(), "build", "-f", "deploy/Dockerfile", "-t", image, *arguments, *options, "."]
    subprocess.run(command, cwd=ROOT, check=True)  # noqa: S603 - our own arguments


def base_image() -> str:
    """What the Dockerfile begins with."""
    text = (ROOT / "deploy" / "Dockerfile").read_text(encoding="utf-8")
    return text.partition("ARG BASE_IMAGE=")[2].split()[0]


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.image",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--image", default="wrung:dev", help="its name")
    parser.add_argument("--built", action="store_true", help="measure what is there")
    parser.add_argument("--if-possible", action="store_true")
    parser.add_argument("--sbom", type=Path, metavar="FILE", help="write its SBOM there")
    return parser


def _reason_against() -> str:
    """Why it cannot be built here; empty if it can."""
    try:
        command = engine()
    except SystemExit as ended:
        return str(ended.code)
    for ask in (("image", "inspect"), ("pull",)):
        try:
            done = subprocess.run(  # noqa: S603 - our own arguments
                [command, *ask, base_image()],
                capture_output=True,
                check=False,
                timeout=_MOST_PULL_S,
            )
        except subprocess.TimeoutExpired:
            continue
        if done.returncode == 0:
            return ""
    return f"{base_image()} is neither here nor to be had"


def _git(*arguments: str) -> str:
    done = subprocess.run(  # noqa: S603 - our own arguments
        ["git", *arguments],  # noqa: S607 - whichever git there is
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.strip()


def _figures(image: str) -> Iterator[tuple[str, float]]:
    yield "MB", int(ask_engine("image", "inspect", "--format", "{{.Size}}", image)) / 1e6
    layers = _compressed(image)
    yield "MB compressed", sum(layers) / 1e6
    yield "layers", len(layers)
    _work(image)
    yield from _start(image)
    with _serving(image) as container:
        _judge_held(container)
        yield "first stack, ms", 1000 * _asked(container, "/v1/stacks", {}, b'"optimal"')
        card = {"Accept": "application/pdf"}
        yield "first card, ms", 1000 * _asked(container, "/v1/cards", card, b"%PDF")
        start = time.monotonic()
        ask_engine("stop", "--time", "10", container.name)
        yield "SIGTERM, s", time.monotonic() - start
        if code := exit_code(container.name):
            sys.exit(f"SIGTERM ended it with {code}")


def _start(image: str) -> Iterator[tuple[str, float]]:
    """The best of a few, as the first one reads it from the disk."""
    starts = []
    for _ in range(_STARTS):
        with _serving(image) as container:
            starts.append((container.start_s, cpu_seconds(container.pid)))
    yield "start, s", min(elapsed for elapsed, _ in starts)
    yield "start, CPU s", min(cpu for _, cpu in starts)


def _serving(image: str) -> AbstractContextManager[Container]:
    settings = {"WRUNG_SOLVE_WORKERS": str(_WORKERS)}
    return serving(image, published_mb(_WORKERS), settings)


def _compressed(image: str) -> list[int]:
    """What a registry would hold of each layer, bytes."""
    with TemporaryDirectory() as folder:
        path = Path(folder, "image.tar")
        ask_engine("save", "--output", str(path), image)
        with tarfile.open(path) as saved:
            (manifest,) = json.load(_member(saved, "manifest.json"))
            return [_gzipped(_member(saved, name)) for name in manifest["Layers"]]


def _member(saved: tarfile.TarFile, name: str) -> IO[bytes]:
    file = saved.extractfile(name)
    if file is None:
        raise RuntimeError(f"the engine saved no {name}")
    return file


def _gzipped(layer: IO[bytes]) -> int:
    packer = zlib.compressobj()
    return sum(len(packer.compress(part)) for part in iter(lambda: layer.read(1 << 20), b"")) + len(
        packer.flush()
    )


def _work(image: str) -> None:
    """The same image makes the tables of a store, and has a worker that ends by itself."""
    store = ("--env", "WRUNG_STORE_URL=sqlite:////tmp/crib.db", "--entrypoint", "sh")
    commands = "wrung migrate && wrung worker --idle-seconds 1"
    said = run("--rm", *HARDENED, *store, image, "-c", commands)
    for part in ("newest revision", "worker_ready", "worker_ended"):
        if part not in said:
            sys.exit(f"{commands}: {said}")


def _judge_held(container: Container) -> None:
    """By what the kernel says, not by what the engine was told."""
    lines = Path(f"/proc/{container.pid}/status").read_text(encoding="ascii").splitlines()
    status = {name: value.strip() for name, _, value in (line.partition(":") for line in lines)}
    if "0" in status["Uid"].split():
        sys.exit("it runs as root")
    if found := {name: status[name] for name, value in _HELD.items() if status[name] != value}:
        sys.exit(f"the first process has {found}")
    writing = ("exec", container.name, "python3", "-c", "open('/written', 'w')")
    try:
        ask_engine(*writing)
    except RuntimeError as error:
        if "Read-only file system" in str(error):
            return
    sys.exit("its root can be written")


def _asked(container: Container, path: str, headers: Mapping[str, str], part: bytes) -> float:
    """The seconds to an answer with that part."""
    connection = HTTPConnection("127.0.0.1", container.port, timeout=30)
    start = time.monotonic()
    sent = {"Content-Type": "application/json", **headers}
    connection.request("POST", path, json.dumps(_REQUEST), sent)
    answer = connection.getresponse().read()
    seconds = time.monotonic() - start
    connection.close()
    if part not in answer:
        sys.exit(f"{path}: {answer[:500]!r}")
    return seconds


def _faults_of_labels(image: str) -> Iterator[str]:
    labels = json.loads(
        ask_engine("image", "inspect", "--format", "{{json .Config.Labels}}", image)
    )
    for name in LABELS:
        if labels.get(f"org.opencontainers.image.{name}", "unknown") == "unknown":
            yield f"no label {name}"


def _faults_of_sbom(image: str, sbom: str) -> Iterator[str]:
    """Every package that is installed must stand in the SBOM, with its version."""
    told = {(_normal(each["name"]), each["version"]) for each in json.loads(sbom)["components"]}
    told.add(("wrung", __version__))
    script = "import importlib.metadata as m; [print(d.name, d.version) for d in m.distributions()]"
    installed = run(*_SHOW, "/opt/venv/bin/python", image, "-c", script).splitlines()
    for name, version in (line.split() for line in installed):
        if (_normal(name), version) not in told:
            yield f"{name} {version} is not in the SBOM"


def _normal(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


if __name__ == "__main__":
    print(
        f"{time.strftime('%Y-%m-%d')}, {os.cpu_count()} CPUs, load {os.getloadavg()[0]:.1f} before"
    )
    main()
