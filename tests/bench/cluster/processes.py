"""The processes of an installation: each can be killed, ended, and started again."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from bench.ports import free_port
from bench.server import wait

_END_S = 60.0
_SKEWED = Path(__file__).with_name("skewed.py")


class Process:
    """One command of ``wrung``, and what can happen to it."""

    def __init__(self, name: str, arguments: Sequence[str], log: Path) -> None:
        self.name, self.log, self._arguments = name, log, arguments
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def pid(self) -> int:
        """Its process id."""
        assert self._process
        return self._process.pid

    def start(self, *, clock_s: int = 0) -> None:
        """Start it, as on a machine whose clock is so much fast."""
        program = [str(_SKEWED), str(clock_s)] if clock_s else ["-m", "wrung_service"]
        ours = {name: each for name, each in os.environ.items() if not name.startswith("WRUNG_")}
        with self.log.open("ab") as log:
            self._process = subprocess.Popen(  # noqa: S603 - our own
                [sys.executable, *program, *self._arguments], env=ours, stdout=log, stderr=log
            )

    def ended(self) -> int | None:
        """Its exit code, once it has ended."""
        return self._process.poll() if self._process else None

    def kill(self) -> None:
        """End it at once."""
        self._end(signal.SIGKILL)

    def terminate(self) -> int:
        """End it in good order; its exit code."""
        return self._end(signal.SIGTERM)

    def megabytes(self) -> float:
        """Memory that it holds now; Linux only."""
        status = Path(f"/proc/{self.pid}/status").read_text(encoding="ascii")
        return int(status.partition("VmRSS:")[2].split()[0]) * 1024 / 1_000_000

    def _end(self, number: signal.Signals) -> int:
        assert self._process
        if self._process.poll() is None:
            self._process.send_signal(number)
        return self._process.wait(_END_S)


class Replica(Process):
    """A service on a port that it keeps over restarts."""

    def __init__(self, name: str, arguments: Sequence[str], log: Path) -> None:
        self.port = free_port()
        super().__init__(name, ["serve", "--port", str(self.port), *arguments], log)

    def wait_until_ready(self) -> float:
        """How long it took, s."""
        began = time.monotonic()
        wait(self.port, self.ended)
        return time.monotonic() - began
