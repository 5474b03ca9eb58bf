"""A container of our own, under the limits of deploy/compose.yaml, for as long as a block runs."""

import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from tempfile import gettempdir

from .cgroup import limited
from .server import Server, free_port, wait

_HARDENED = (
    *("--read-only", "--tmpfs", "/tmp", "--cap-drop", "ALL"),  # noqa: S108 - the container's own
    *("--security-opt", "no-new-privileges"),
)
_KILLED = 128 + signal.SIGKILL


def engine() -> str:
    """What runs containers here."""
    found = shutil.which("podman") or shutil.which("docker")
    if found is None:
        sys.exit("neither podman nor docker is installed: --container needs one of them")
    return found


@contextmanager
def contained(image: str, memory_mb: int, settings: Mapping[str, str]) -> Iterator[Server]:
    """Serve on loopback with so much memory and no swap; no restart, so that an end is seen."""
    port = free_port()
    environment = (f"--env={key}={value}" for key, value in settings.items())
    options = (*_limits(memory_mb), *_HARDENED, *environment)
    # In a network of its own it would have to listen on all addresses.
    serve = ("--network", "host", image, "serve", "--host", "127.0.0.1", "--port", str(port))
    name = _engine("run", "--detach", "--pull", "never", *options, *serve)
    try:
        wait(port, lambda: _ended(name))
        pid = int(_engine("inspect", "--format", "{{.State.Pid}}", name))
        yield Server(port=port, pid=pid, cgroup=limited(pid, memory_mb))
    finally:
        if (code := _ended(name)) is not None:
            # Not every engine knows that the kernel was it; nobody else here would kill it.
            out_of_memory = ": killed, as for want of memory" if code == _KILLED else ""
            print(f"The container ended with {code}{out_of_memory}.", flush=True)
        _engine("rm", "--force", name)


def _limits(memory_mb: int) -> tuple[str, ...]:
    # Memory and swap together; the same figure leaves no swap.
    size = f"{memory_mb * 1_000_000}b"
    return ("--memory", size, "--memory-swap", size)


def _ended(name: str) -> int | None:
    """The exit code; None while it runs."""
    state = _engine("inspect", "--format", "{{.State.Running}} {{.State.ExitCode}}", name)
    running, code = state.split()
    return None if running == "true" else int(code)


def _engine(*arguments: str) -> str:
    """What the engine prints on its standard output."""
    # Podman's monitor leaves a file where it was started, if the kernel kills what it looks after.
    done = subprocess.run(  # noqa: S603 - our own arguments
        [engine(), *arguments], cwd=gettempdir(), capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise RuntimeError(f"{engine()} {arguments[0]}: {done.stderr.strip()}")
    return done.stdout.strip()
