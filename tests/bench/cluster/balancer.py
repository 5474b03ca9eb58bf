"""A real load balancer on loopback in front of replicas: haproxy, or what BALANCER says, nginx."""

import os
import shutil
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path

from bench.ports import free_port

NAME = os.environ.get("BALANCER", "haproxy")
NOT_THERE = f"{NAME} is not installed (apt-get install {NAME})"
_START_S = 300.0
# Where no replica is left the balancer refuses by itself, and must say when to try again as well.
_HAPROXY = """
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
# It asks nobody for health: it sends a request on where a replica takes no connection, and leaves
# that one out for a second. It may not send a POST a second time, so clients must.
_NGINX = """
daemon off;
master_process off;
error_log stderr;
pid {folder}/nginx.pid;
events {{}}
http {{
  access_log off;
  client_body_temp_path {folder}/body;
  proxy_temp_path {folder}/proxy;
  fastcgi_temp_path {folder}/fastcgi;
  scgi_temp_path {folder}/scgi;
  uwsgi_temp_path {folder}/uwsgi;
  client_max_body_size 0;
  upstream replicas {{
    least_conn;
{servers}
  }}
  server {{
    listen 127.0.0.1:{port};
    location / {{
      proxy_pass http://replicas;
      proxy_connect_timeout 1s;
      proxy_read_timeout 120s;
      proxy_buffering off;
    }}
  }}
}}
"""
_PROGRAMS = {
    "haproxy": (_HAPROXY, "  server replica{n} 127.0.0.1:{port}", ("-db", "-q", "-f")),
    "nginx": (_NGINX, "    server 127.0.0.1:{port} max_fails=1 fail_timeout=1s;", ("-c",)),
}


def balancer() -> str | None:
    """The program; None where it is not installed."""
    # The usual PATH of those who are not root lacks the folder.
    return shutil.which(NAME) or shutil.which(NAME, path="/usr/sbin")


@contextmanager
def balanced(ports: Sequence[int], folder: Path) -> Iterator[tuple[int, int]]:
    """A balancer in front of these: its port and its process id.

    Raises:
        RuntimeError: it is not installed, or did not start.
    """
    program = balancer()
    if program is None:
        raise RuntimeError(NOT_THERE)
    configuration, server, options = _PROGRAMS[NAME]
    port, file = free_port(), folder / "balancer.cfg"
    servers = "\n".join(server.format(n=n, port=each) for n, each in enumerate(ports))
    text = configuration.format(port=port, servers=servers, folder=folder)
    file.write_text(text, encoding="utf-8")
    command = [program, *options, str(file)]
    with (
        (folder / "balancer.log").open("wb") as log,
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
