"""Start the Compose file for real, and take away from it what can go.

    python -m tests.bench.compose [--image NAME]

All of it comes up healthy, a plan is kept, and must be there behind TLS, after the database was
stopped, after every container was made anew, and in a new database from a backup. Nothing else on
the machine is touched: the project, its ports and its secrets are its own, and are removed. The
images of PostgreSQL and of the proxy must be there or to be had. Needs Docker with Compose.
"""

import argparse
import json
import os
import ssl
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.client import HTTPConnection, HTTPSConnection
from pathlib import Path
from secrets import token_hex
from tempfile import TemporaryDirectory
from typing import Any, Final

from msgspec import Struct

from .ports import free_port

_DEPLOY: Final = Path(__file__).parents[2] / "deploy"
_SITE: Final = "/v1/sites/mill-lane"
_PATIENCE_S: Final = 60
_BATCH: Final = 100


class Project(Struct, frozen=True, kw_only=True):
    """A project of Compose of our own, and where it listens."""

    environment: Mapping[str, str]
    port: int
    tls_port: int

    def __call__(self, *arguments: str, given: bytes | None = None) -> bytes:
        """What ``docker compose`` prints; ends with what it says where it fails."""
        command = ["docker", "compose", "-p", "wrung-try", "-f", str(_DEPLOY / "compose.yaml")]
        done = subprocess.run(  # noqa: S603 - our own arguments
            [*command, "--profile", "tls", *arguments],
            env={**os.environ, **self.environment},
            input=given,
            capture_output=True,
            check=False,
        )
        if done.returncode:
            sys.exit(f"docker compose {' '.join(arguments)}: {done.stderr.decode()[-2000:]}")
        return done.stdout

    def up(self, *options: str) -> None:
        """Until all of it is healthy."""
        self("up", "--no-build", "--wait", "--wait-timeout", "300", *options)

    def owner(self, *command: str, given: bytes | None = None) -> bytes:
        """A command of PostgreSQL's, as the owner of the database."""
        return self("exec", "-T", "db", command[0], "--username=owner", *command[1:], given=given)

    def status(self, path: str) -> int:
        """Of an answer; 0 where there is none."""
        try:
            connection = HTTPConnection("127.0.0.1", self.port, timeout=20)
            connection.request("GET", path)
            return connection.getresponse().status
        except OSError:
            return 0


def main() -> None:
    """Go through all of it and print how long each step took."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.compose",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--image", default="wrung:dev", help="the image of the service")
    image = parser.parse_args().image
    print(f"{time.strftime('%Y-%m-%d')}, load {os.getloadavg()[0]:.1f} before\n\n| step | s |")
    print("| --- | ---: |")
    with project(image) as compose:
        for name, step in _steps(compose):
            start = time.monotonic()
            step()
            print(f"| {name} | {time.monotonic() - start:.1f} |", flush=True)


@contextmanager
def project(image: str) -> Iterator[Project]:
    """With secrets and ports of its own; it is removed with all its data."""
    with TemporaryDirectory() as folder:
        subprocess.run([_DEPLOY / "compose" / "secrets.sh", folder], check=True)  # noqa: S603 - our own
        ports = {name: free_port() for name in ("PORT", "HTTP_PORT", "HTTPS_PORT")}
        environment = {"IMAGE": image, "SECRETS": folder, "HOST": "localhost"}
        environment |= {name: str(port) for name, port in ports.items()}
        made = Project(environment=environment, port=ports["PORT"], tls_port=ports["HTTPS_PORT"])
        try:
            yield made
        finally:
            made("down", "--volumes", "--timeout", "5")


def _steps(compose: Project) -> Iterator[tuple[str, Callable[[], object]]]:
    yield "up, all healthy", compose.up
    yield "nobody without a key", lambda: _expect(401, compose.status("/v1/sites"))
    shop = Shop(compose)
    yield "a site, a set and a plan", shop.fill
    yield "the plan through the proxy, by TLS", shop.look
    yield "a batch of 100, by the worker", shop.batch
    yield "another, with three workers", lambda: _scaled(compose, shop)
    yield "database stopped: alive, but not ready", lambda: _without_database(compose)
    yield "database back: ready", lambda: _again(compose)
    yield "every container made anew", lambda: compose.up("--force-recreate")
    yield "the plan is there", shop.look
    backup: list[bytes] = []
    yield "backup", lambda: backup.append(compose.owner("pg_dump", "--format=custom", "crib"))
    yield "all data destroyed", lambda: compose("down", "--volumes", "--timeout", "70")
    yield "up, all healthy", compose.up
    yield "restored from the backup", lambda: _restore(compose, backup[0])
    yield "the plan is there", shop.look
    yield "doctor", lambda: compose("exec", "-T", "wrung", "wrung", "doctor")
    yield "stopped by SIGTERM", lambda: _stopped(compose)


def _restore(compose: Project, backup: bytes) -> None:
    """As deploy/README.md says."""
    compose("stop", "wrung", "worker")
    compose.owner("dropdb", "crib")
    compose.owner("createdb", "crib")
    compose.owner("pg_restore", "--dbname=crib", "--exit-on-error", given=backup)
    compose("run", "--rm", "-T", "migrate")
    compose.up()


class Shop:
    """A crib with a plan in it, seen through the proxy."""

    def __init__(self, compose: Project) -> None:
        self._compose = compose
        self._key = ""
        self._plan = ""

    def fill(self) -> None:
        """Make a key, a site, a set and a plan."""
        add = ("exec", "-T", "wrung", "wrung", "keys", "add")
        said = self._compose(*add, "--holder", "erp", "--scope", "admin").decode()
        self._key = next(word for word in said.split() if word.startswith("wrung_"))
        self._ask("PUT", _SITE, {"name": "Mill Lane", "time_zone": "Europe/Berlin"})
        self._ask("PUT", f"{_SITE}/sets/a", {"composition": "metric-88", "grade": "1"})
        day = datetime.now(UTC).replace(microsecond=0) + timedelta(days=1)
        times = {"needed_from": day.isoformat(), "needed_until": (day + timedelta(1)).isoformat()}
        plan = {
            "unit": "mm",
            "crib": {"site": "mill-lane", **times},
            "job": "4711",
            "targets": [{"kind": "length", "ref": "slot", "length": "31.001"}],
        }
        self._plan = self._ask("POST", "/v1/plans", plan)["id"]

    def look(self) -> None:
        """The plan is there."""
        self._ask("GET", f"/v1/plans/{self._plan}")

    def batch(self) -> None:
        """Post one, and wait until each request has its answer."""
        request = {
            "unit": "mm",
            "sets": [{"id": "a", "composition": "metric-88", "grade": "1"}],
            "targets": [{"kind": "length", "ref": "slot", "length": "31.001"}],
        }
        made = self._ask("POST", "/v1/batches", {"requests": [request] * _BATCH})
        end = time.monotonic() + _PATIENCE_S
        while (found := self._ask("GET", f"/v1/batches/{made['id']}"))["state"] != "done":
            if time.monotonic() > end:
                sys.exit(f"the batch is not done: {found}")
            time.sleep(0.2)
        _expect(_BATCH, found["answered"])

    def _ask(self, method: str, path: str, body: Mapping[str, object] | None = None) -> Any:  # noqa: ANN401 - JSON
        # Anew each time: its authority goes with its data.
        root = ("exec", "-T", "proxy", "cat", "/data/caddy/pki/authorities/local/root.crt")
        trusted = ssl.create_default_context(cadata=self._compose(*root).decode())
        connection = HTTPSConnection(
            "localhost", self._compose.tls_port, timeout=30, context=trusted
        )
        headers = {"Authorization": f"Bearer {self._key}", "Content-Type": "application/json"}
        if method != "GET":
            headers |= {"Idempotency-Key": token_hex(8), "If-None-Match": "*"}
        connection.request(method, path, json.dumps(body) if body else None, headers)
        response = connection.getresponse()
        answer = response.read()
        connection.close()
        if response.status not in {200, 201, 202}:
            sys.exit(f"{method} {path}: {response.status} {answer.decode()}")
        return json.loads(answer)


def _without_database(compose: Project) -> None:
    compose("stop", "db")
    _expect(503, compose.status("/readyz"))
    _expect(200, compose.status("/livez"))


def _again(compose: Project) -> None:
    compose("start", "db")
    end = time.monotonic() + _PATIENCE_S
    while (status := compose.status("/readyz")) != 200 and time.monotonic() < end:
        time.sleep(0.2)
    _expect(200, status)


def _scaled(compose: Project, shop: Shop) -> None:
    compose.up("--scale", "worker=3")
    shop.batch()


def _stopped(compose: Project) -> None:
    compose("stop", "wrung", "worker")
    listed = compose("ps", "-a", "--format", "json", "wrung", "worker")
    for service in map(json.loads, listed.splitlines()):
        _expect(0, service["ExitCode"])


def _expect(wanted: int, found: int) -> None:
    if found != wanted:
        sys.exit(f"{found} in place of {wanted}")


if __name__ == "__main__":
    main()
