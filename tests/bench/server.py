"""A server of our own on a free loopback port, for as long as a block runs."""

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from http.client import HTTPConnection
from pathlib import Path

from msgspec import Struct

from .cgroup import Cgroup
from .ports import free_port

SECONDS_TO_START = 300
SECONDS_TO_STOP = 60


class Server(Struct, frozen=True, kw_only=True):
    """Where a running server listens, its process id, and what counts its container's memory."""

    port: int
    pid: int
    cgroup: Cgroup | None = None

    @property
    def address(self) -> str:
        """Its base address."""
        return f"http://127.0.0.1:{self.port}"

    def peak_megabytes(self) -> float:
        """Most memory that the process held at one time; Linux only."""
        return self._megabytes("VmHWM:")

    def megabytes(self) -> float:
        """Memory that the process holds now; Linux only."""
        return self._megabytes("VmRSS:")

    def cpu_seconds(self) -> float:
        """CPU time that the process has had; Linux only."""
        return cpu_seconds(self.pid)

    def set_peaks_back(self) -> None:
        """Let its peaks begin anew, as far as the system lets us."""
        with suppress(PermissionError):
            # 5 sets the peak back to what is held now, see proc(5).
            Path(f"/proc/{self.pid}/clear_refs").write_text("5", encoding="ascii")
        if self.cgroup is not None:
            self.cgroup.set_back()

    def fault(self) -> str:
        """What befell it; empty while it runs and nothing of it was killed."""
        try:
            self.megabytes()
            kills = self.cgroup.oom_kills() if self.cgroup is not None else 0
        except (OSError, IndexError):
            return "the service has ended"
        return f"{kills} processes were killed for want of memory" if kills else ""

    def _megabytes(self, field: str) -> float:
        status = Path(f"/proc/{self.pid}/status").read_text(encoding="ascii")
        return int(status.partition(field)[2].split()[0]) * 1024 / 1_000_000


@contextmanager
def running(
    module: str = "wrung_service",
    arguments: Sequence[str] = ("serve",),
    settings: Mapping[str, str] | None = None,
    python: str = sys.executable,
) -> Iterator[Server]:
    """Run ``python -m module ... --host 127.0.0.1 --port N``; it is ended by its process id."""
    port = free_port()
    command = [python, "-m", module, *arguments, "--host", "127.0.0.1", "--port", str(port)]
    environment = {**os.environ, **(settings or {})}
    with subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL) as process:  # noqa: S603 - our own
        try:
            wait(port, process.poll)
            yield Server(port=port, pid=process.pid)
        finally:
            process.terminate()
            process.wait(SECONDS_TO_STOP)


def cpu_seconds(pid: int) -> float:
    """CPU time that a process has had, 0 if there is none; Linux only."""
    path = Path(f"/proc/{pid}/stat")
    # The name before these fields, see proc(5), is in parentheses and may hold anything.
    fields = path.read_text("utf-8").rpartition(")")[2].split() if path.exists() else []
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK") if fields else 0.0


def wait(port: int, ended: Callable[[], int | None]) -> None:
    """Until it is ready; RuntimeError if it has ended, with that exit code, or takes too long."""
    end = time.monotonic() + SECONDS_TO_START
    reason = ""
    while time.monotonic() < end:
        if (code := ended()) is not None:
            raise RuntimeError(f"the server ended at once with {code}")
        reason = _reason_against(port)
        if not reason:
            return
        time.sleep(0.05)
    raise RuntimeError(f"the server was not ready within {SECONDS_TO_START} s: {reason}")


def _reason_against(port: int) -> str:
    """Why the server is not ready; empty if it is."""
    connection = HTTPConnection("127.0.0.1", port, timeout=20)
    try:
        connection.request("GET", "/readyz")
        response = connection.getresponse()
        return "" if response.status == 200 else response.read().decode()
    except OSError as error:
        return str(error) or type(error).__name__
    finally:
        connection.close()
