"""A real load balancer on loopback, haproxy, in front of replicas."""

import shutil
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path

from bench.ports import free_port

NOT_THERE = "haproxy is not installed (apt-get install haproxy)"
_START_S = 30.0
# Where no replica is left the balancer refuses by itself, and must say when to try again as well.
_CONFIGURATION = """
defaults
  mode http
  timeout connect 1s
  timeout client 120s
  timeout server 120s
  retries 3
  option redispatch 1
  option http-server-close
  retry-on conn-failure
  http-error status 503 content-type application/problem+json string '{{"status":503}}' \
hdr Retry-After 1
frontend service
  bind 127.0.0.1:{port}
  default_backend replicas
backend replicas
  balance leastconn
  option httpchk GET /readyz
  default-server check inter 500ms fastinter 200ms fall 2 rise 1
{servers}
"""


def balancer() -> str | None:
    """The program; None where it is not installed."""
    # The usual PATH of those who are not root lacks the folder.
    return shutil.which("haproxy") or shutil.which("haproxy", path="/usr/sbin")


@contextmanager
def balanced(ports: Sequence[int], folder: Path) -> Iterator[tuple[int, int]]:
    """A balancer in front of these: its port and its process id.

    Raises:
        RuntimeError: haproxy is not installed, or did not start.
    """
    program = balancer()
    if program is None:
        raise RuntimeError(NOT_THERE)
    port, file = free_port(), folder / "haproxy.cfg"
    servers = "\n".join(f"  server replica{n} 127.0.0.1:{each}" for n, each in enumerate(ports))
    file.write_text(_CONFIGURATION.format(port=port, servers=servers), encoding="utf-8")
    command = [program, "-db", "-q", "-f", str(file)]
    with (
        (folder / "haproxy.log").open("wb") as log,
        subprocess.Popen(command, stdout=log, stderr=log) as process,  # noqa: S603 - no shell
    ):
        try:
            _wait(port, process)
            yield port, process.pid
        finally:
            process.terminate()


def _wait(port: int, process: "subprocess.Popen[bytes]") -> None:
    end = time.monotonic() + _START_S
    while time.monotonic() < end and process.poll() is None:
        connection = HTTPConnection("127.0.0.1", port, timeout=5)
        try:
            connection.request("GET", "/readyz")
            if connection.getresponse().status == 200:
                return
        except OSError:
            pass
        finally:
            connection.close()
        time.sleep(0.05)
    raise RuntimeError("the balancer did not start, or finds no replica")
