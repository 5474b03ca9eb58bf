"""Take stores that an older commit wrote to this one, and look whether all of it is there.

    python -m tests.bench.upgrade [--old COMMIT ...]

The service of the older commit fills an empty SQLite file and an empty PostgreSQL database: a site,
a set, plans, one of them ended, blocks that went out and came back. This one then migrates both,
and must answer the same of each, find nothing wrong (`wrung doctor`, `wrung verify-history`), and
promise no block that the older one promised. Without --old they are the last commits with each
older revision of the tables.
"""

import argparse
import io
import json
import os
import subprocess
import sys
import tarfile
import time
from collections.abc import Mapping
from http.client import HTTPConnection
from pathlib import Path
from secrets import token_hex
from tempfile import TemporaryDirectory
from typing import Any, Final

sys.path.insert(0, str(Path(__file__).parents[1]))

from postgres import running_postgres

from .server import Server, running

_ROOT: Final = Path(__file__).parents[2]
_REVISIONS: Final = "service/wrung_service/store/migrations/versions"
_SITE: Final = "/v1/sites/mill-lane"
_LENGTHS: Final = ("31.001", "12.34", "2.005")
_LISTS: Final = (
    *("/v1/sites", f"{_SITE}/sets", f"{_SITE}/blocks?limit=200", f"{_SITE}/loans"),
    *("/v1/plans?site=mill-lane", f"{_SITE}/calibration-due"),
)


def main() -> None:
    """Both databases, one after the other."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.upgrade",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--old", nargs="+", metavar="COMMIT", help="write the stores with these")
    commits = parser.parse_args().old or _before_each_revision()
    print("| written by | store | answers compared | s |\n| --- | --- | ---: | ---: |")
    for old in commits:
        with TemporaryDirectory() as folder, running_postgres() as server:
            code, file = Path(folder, "old"), Path(folder, "crib.db")
            _unpack(old, code)
            said = _git("log", "-1", "--format=%h, %cs", old)
            for name, url in {"SQLite": f"sqlite:///{file}", "PostgreSQL": server.url()}.items():
                start = time.monotonic()
                answers = _upgraded(url, code)
                print(f"| {said} | {name} | {answers} | {time.monotonic() - start:.1f} |")


def _upgraded(url: str, code: Path) -> int:
    """How many answers of the older one this one gives as well."""
    old = {"PYTHONPATH": f"{code / 'solver'}:{code / 'service'}"}
    _command("migrate", url, old)
    with running(settings={**old, "WRUNG_STORE_URL": url}) as server:
        plans = _filled(server)
        before = _answers(server, plans)
    _command("migrate", url)
    _command("doctor", url)
    _command("verify-history", url)
    with running(settings={"WRUNG_STORE_URL": url}) as server:
        after = _answers(server, plans)
        for path, answer in before.items():
            _compare(path, answer, after[path])
        taken = _asked(server, "POST", "/v1/plans", _plan("9", _LENGTHS[0], partial=False))
        if {block["id"] for block in _blocks(before[plans[0]])} & _ids(taken):
            sys.exit("a block was promised twice")
    return len(before)


def _filled(server: Server) -> list[str]:
    """Plans, the second of which is ended and the third at the bench; their addresses."""
    _asked(server, "PUT", _SITE, {"name": "Mill Lane", "time_zone": "Europe/Berlin"})
    _asked(server, "PUT", f"{_SITE}/sets/a", {"composition": "metric-88", "grade": "1"})
    plans = []
    for number, length in enumerate(_LENGTHS):
        made = _asked(server, "POST", "/v1/plans", _plan(str(number), length))
        plans.append(f"/v1/plans/{made['id']}")
    _asked(server, "POST", f"{plans[1]}/end", {"state": "done"})
    blocks = [block["id"] for block in _blocks(_asked(server, "GET", plans[2]))]
    _asked(server, "POST", f"{_SITE}/issues", {"blocks": blocks})
    _asked(server, "POST", f"{_SITE}/returns", {"blocks": [{"id": blocks[0]}]})
    return plans


def _plan(job: str, length: str, **members: object) -> dict[str, object]:
    times = {"needed_from": "2099-03-01T08:00:00Z", "needed_until": "2099-03-01T09:00:00Z"}
    return {
        "unit": "mm",
        "crib": {"site": "mill-lane", **times},
        "job": job,
        "targets": [{"kind": "length", "ref": "slot", "length": length}],
        **members,
    }


def _answers(server: Server, plans: list[str]) -> dict[str, Any]:
    return {path: _asked(server, "GET", path) for path in (*_LISTS, *plans)}


def _compare(path: str, old: Any, new: Any) -> None:  # noqa: ANN401 - JSON
    """The newer answer may have members that the older one did not know."""
    if isinstance(old, Mapping) and isinstance(new, Mapping):
        for name, value in old.items():
            _compare(f"{path} {name}", value, new.get(name))
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        for number, (one, other) in enumerate(zip(old, new, strict=True)):
            _compare(f"{path} {number}", one, other)
    elif old != new:
        sys.exit(f"{path}: {old!r} became {new!r}")


def _blocks(plan: Mapping[str, Any]) -> list[dict[str, str]]:
    (stack,) = plan["answer"]["stacks"]
    return list(stack["blocks"])


def _ids(plan: Mapping[str, Any]) -> set[str]:
    return {block["id"] for block in _blocks(plan)}


def _asked(server: Server, method: str, path: str, body: object = None) -> Any:  # noqa: ANN401 - JSON
    connection = HTTPConnection("127.0.0.1", server.port, timeout=30)
    headers = {"Content-Type": "application/json", "Idempotency-Key": token_hex(8)}
    if method == "PUT":
        headers["If-None-Match"] = "*"
    connection.request(method, path, None if body is None else json.dumps(body), headers)
    response = connection.getresponse()
    answer = response.read()
    connection.close()
    if response.status not in {200, 201}:
        sys.exit(f"{method} {path}: {response.status} {answer.decode()}")
    return json.loads(answer)


def _command(name: str, url: str, environment: Mapping[str, str] | None = None) -> None:
    command = [sys.executable, "-m", "wrung_service", name, "--store-url", url]
    done = subprocess.run(  # noqa: S603 - our own
        command,
        env={**os.environ, **(environment or {})},
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        sys.exit(f"wrung {name}: {done.stdout}{done.stderr}")


def _before_each_revision() -> list[str]:
    brought = _git("log", "--format=%H", "--diff-filter=A", "--", f"{_REVISIONS}/[0-9]*").split()
    if len(brought) < 2:
        sys.exit("the history of this clone does not say what was before; give --old, or fetch it")
    # The first one brought the first tables: nothing was stored before.
    return [f"{commit}~1" for commit in reversed(brought[:-1])]


def _unpack(commit: str, folder: Path) -> None:
    archive = subprocess.run(  # noqa: S603 - our own arguments
        ["git", "archive", commit, "solver", "service"],  # noqa: S607 - whichever git there is
        cwd=_ROOT,
        capture_output=True,
        check=True,
    ).stdout
    with tarfile.open(fileobj=io.BytesIO(archive)) as tar:
        tar.extractall(folder, filter="data")


def _git(*arguments: str) -> str:
    done = subprocess.run(  # noqa: S603 - our own arguments
        ["git", *arguments],  # noqa: S607 - whichever git there is
        cwd=_ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.strip()


if __name__ == "__main__":
    main()
