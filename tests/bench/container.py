"""Containers of our own, held as a cluster would hold them, for as long as a block runs."""

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from tempfile import gettempdir
from typing import Final

from msgspec import Struct

from .cgroup import limited
from .ports import free_port
from .server import Server, wait

HARDENED: Final = (
    *("--read-only", "--tmpfs", "/tmp", "--cap-drop", "ALL"),  # noqa: S108 - the container's own
    *("--security-opt", "no-new-privileges"),
)
# By itself podman asks for a million of each, which a machine with lower limits does not give.
_RLIMITS: Final = ("--ulimit", "nofile=4096:4096", "--ulimit", "nproc=4096:4096")
_ENGINES: Final = ("podman", "docker")
_KILLED: Final = 128 + signal.SIGKILL


class Container(Struct, frozen=True, kw_only=True):
    """A service that runs: its name, its first process, and how soon it was ready, s."""

    name: str
    pid: int
    port: int
    start_s: float


def engine() -> str:
    """What runs containers here; the environment's CONTAINER_ENGINE, if it says."""
    wanted = os.environ.get("CONTAINER_ENGINE")
    found = _working((wanted,) if wanted else _ENGINES, os.environ["PATH"])
    if found is None:
        sys.exit("neither podman nor docker runs here: a container needs one of them")
    return found


@cache
def _working(names: tuple[str, ...], search_path: str) -> str | None:
    # The client of docker is often there without a daemon.
    for path in filter(None, (shutil.which(name, path=search_path) for name in names)):
        if subprocess.run([path, "info"], capture_output=True, check=False).returncode == 0:  # noqa: S603 - found on PATH
            return path
    return None


@contextmanager
def contained(image: str, memory_mb: int, settings: Mapping[str, str]) -> Iterator[Server]:
    """Serve with so much memory and no swap."""
    with serving(image, memory_mb, settings) as container:
        group = limited(container.pid, memory_mb)
        yield Server(port=container.port, pid=container.pid, cgroup=group)


@contextmanager
def serving(image: str, memory_mb: int, settings: Mapping[str, str]) -> Iterator[Container]:
    """Serve on loopback; no restart, so that an end is seen."""
    port = free_port()
    environment = (f"--env={key}={value}" for key, value in settings.items())
    options = (*_limits(memory_mb), *HARDENED, *environment)
    # In a network of its own it would have to listen on all addresses.
    serve = ("--network", "host", image, "serve", "--host", "127.0.0.1", "--port", str(port))
    start = time.monotonic()
    name = run("--detach", "--pull", "never", *options, *serve)
    try:
        wait(port, lambda: exit_code(name))
        start_s = time.monotonic() - start
        pid = int(ask_engine("inspect", "--format", "{{.State.Pid}}", name))
        yield Container(name=name, pid=pid, port=port, start_s=start_s)
    finally:
        if exit_code(name) == _KILLED:
            # Not every engine knows that the kernel was it; nobody else here would kill it.
            print("The container was killed, as for want of memory.", flush=True)
        ask_engine("rm", "--force", name)


def exit_code(name: str) -> int | None:
    """How a container ended; None while it runs."""
    state = ask_engine("inspect", "--format", "{{.State.Running}} {{.State.ExitCode}}", name)
    running, code = state.split()
    return None if running == "true" else int(code)


def run(*arguments: str) -> str:
    """What a new container prints, or its name; RuntimeError as `ask_engine`."""
    return ask_engine("run", *_RLIMITS, *arguments)


def ask_engine(*arguments: str) -> str:
    """What the engine prints on its standard output; RuntimeError with what it says else."""
    # Podman's monitor leaves a file where it was started, if the kernel kills what it looks after.
    done = subprocess.run(  # noqa: S603 - our own arguments
        [engine(), *arguments], cwd=gettempdir(), capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise RuntimeError(f"{engine()} {arguments[0]}: {done.stderr.strip()}")
    return done.stdout.strip()


def _limits(memory_mb: int) -> tuple[str, ...]:
    # Memory and swap together; the same figure leaves no swap.
    size = f"{memory_mb * 1_000_000}b"
    return ("--memory", size, "--memory-swap", size)
