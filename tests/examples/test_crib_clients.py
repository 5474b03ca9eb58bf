"""The clients of the crib do what they say, against a real service with a store."""

import json
import os
import shutil
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import httpx
import pytest

from bench.server import running
from patience import PATIENCE_S, PATIENT
from wrung_service.store.migrating import migrate

CLIENTS = Path(__file__).parents[2] / "examples" / "clients"
SET = {"composition": "metric-88", "grade": "1", "material": "steel", "serial": "S 1"}
Client = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(name="service", scope="module")
def _service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, str]]:
    """A service that asks for a key, with a crib: what the clients are told of it."""
    url = f"sqlite:///{tmp_path_factory.mktemp('crib') / 'crib.db'}"
    migrate(url)
    scope = ("--holder", "counter", "--scope", "admin", "--store-url", url)
    made = run(sys.executable, "-m", "wrung_service", "keys", "add", *scope)
    key = made.stdout.split()[-1]
    settings = {"WRUNG_STORE_URL": url, "WRUNG_ACCESS": "required"}
    with running(settings=PATIENT | settings) as server:
        yield {"CRIB_ADDRESS": server.address, "CRIB_KEY": key}


@pytest.fixture(name="crib")
def _crib(service: dict[str, str], request: pytest.FixtureRequest) -> Iterator["Crib"]:
    """A site of this test alone, with one set."""
    bearer = {"Authorization": f"Bearer {service['CRIB_KEY']}"}
    with httpx.Client(base_url=service["CRIB_ADDRESS"], headers=bearer, timeout=PATIENCE_S) as http:
        crib = Crib(service, f"site-{abs(hash(request.node.name))}", http)
        crib.put("", {"name": "A hall", "time_zone": "Europe/Berlin"})
        crib.put("/sets/s", SET)
        yield crib


class Crib:
    """A site, and what there is in it."""

    def __init__(self, told: dict[str, str], site: str, http: httpx.Client) -> None:
        self.told, self.site, self._http = told, site, http

    def put(self, path: str, body: object) -> None:
        """Make something of the site."""
        headers = {"If-None-Match": "*"}
        answer = self._http.put(f"/v1/sites/{self.site}{path}", json=body, headers=headers)
        assert answer.status_code == 201, answer.text

    def get(self, path: str) -> Any:  # noqa: ANN401 - JSON
        """What the service answers."""
        return self._http.get(path).raise_for_status().json()

    def plans(self) -> list[dict[str, Any]]:
        """Those of the site."""
        found: list[dict[str, Any]] = self.get(f"/v1/plans?site={self.site}")["plans"]
        return found

    def request(self, folder: Path, job: str, length: str) -> Path:
        """A request for a stack from now on for an hour, as a file."""
        now = datetime.now(UTC)
        times = {
            "needed_from": now.isoformat(),
            "needed_until": (now + timedelta(hours=1)).isoformat(),
        }
        body = {
            "unit": "mm",
            "crib": {"site": self.site, **times},
            "job": job,
            "targets": [{"kind": "length", "ref": "slot", "length": length}],
        }
        path = folder / f"{job}.json"
        path.write_text(json.dumps(body), encoding="utf-8")
        return path


def run(*command: str | Path, **told: str) -> subprocess.CompletedProcess[str]:
    """Run a program to its end."""
    return subprocess.run(  # noqa: S603 - our own
        [str(part) for part in command],
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
        env={**os.environ, **told},
    )


@pytest.fixture(name="client", params=["py", "sh", "cs"])
def _client(request: pytest.FixtureRequest, tmp_path: Path) -> Client:
    """The client in one of the languages that are at hand."""
    match request.param:
        case "py":
            start: list[str | Path] = [sys.executable, CLIENTS / "crib.py"]
        case "sh":
            if not shutil.which("curl"):
                pytest.skip("no curl on this machine")
            start = ["sh", CLIENTS / "crib.sh"]
        case _:
            if not shutil.which("mcs"):
                pytest.skip("no C# compiler (Mono's mcs) on this machine")
            needed = ["-r:System.Net.Http", "-r:System.Runtime.Serialization", "-warnaserror"]
            built = run("mcs", f"-out:{tmp_path / 'Crib.exe'}", *needed, CLIENTS / "Crib.cs")
            assert built.returncode == 0, built.stderr
            start = ["mono", tmp_path / "Crib.exe"]
    return lambda *command, **told: run(*start, *command, **told)


def test_a_batch_is_kept_line_by_line(crib: Crib, tmp_path: Path) -> None:
    """With the same key it is the same batch, and what is wrong with a request is its answer."""
    one = {"unit": "mm", "crib": {"site": crib.site}}
    target = {"kind": "length", "ref": "slot", "length": "21.005"}
    lines = [json.dumps({**one, "targets": each}) for each in ([target], [], [target])]
    (tmp_path / "requests.ndjson").write_text("\n".join(lines), encoding="utf-8")
    command = (tmp_path / "requests.ndjson", tmp_path / "results.ndjson", crib.site, crib.site)

    first, again = (run(sys.executable, CLIENTS / "batch.py", *command, **crib.told) for _ in "ab")

    assert first.stdout == again.stdout, first.stderr
    assert first.stdout.endswith("answers: 3, of them problems: 1\n")
    kept = (tmp_path / "results.ndjson").read_text(encoding="utf-8").splitlines()
    assert [json.loads(each)["status"] for each in kept] == [200, 400, 200]
    refused = run(
        sys.executable, CLIENTS / "batch.py", *command[:2], "other", "nowhere", **crib.told
    )
    assert refused.returncode == 1
    assert "nowhere" in refused.stderr


def test_from_the_plan_to_a_damaged_block(client: Client, crib: Crib, tmp_path: Path) -> None:
    """Out by a scan, back with a burr, and the plan has another block in its place."""

    def ask(*command: str | Path) -> str:
        done = client(*command, **crib.told)
        assert done.returncode == 0, done.stderr + done.stdout
        return done.stdout

    ask("plan", crib.request(tmp_path, "4711", "21.005"), f"{crib.site}-1")
    (plan,) = crib.plans()
    blocks = held(crib, plan)
    for block in blocks:
        assert plan["id"] in ask("issue", crib.site, block)
    failed = next(each for each in blocks if each.endswith("/1.005"))
    for block in blocks - {failed}:
        assert "fit" in ask("return", crib.site, block)

    said = ask("return", crib.site, failed, "damaged", 'burr at the "edge" \\ dropped')

    assert "damaged" in said
    assert plan["id"] in said
    known = crib.get(f"/v1/sites/{crib.site}/blocks/{failed}")
    assert known["condition_reason"] == 'burr at the "edge" \\ dropped'
    ask("replan", plan["id"], "the block is damaged")
    assert failed not in held(crib, plan)
    assert crib.get(f"/v1/plans/{plan['id']}")["at_risk"] == []


def test_who_has_the_blocks_is_said(client: Client, crib: Crib, tmp_path: Path) -> None:
    """409: the set has one block that can be the last of 1.0005 mm."""
    first = client("plan", crib.request(tmp_path, "first", "1.0005"), f"{crib.site}-1", **crib.told)
    assert first.returncode == 0, first.stderr

    late = client("plan", crib.request(tmp_path, "late", "1.0005"), f"{crib.site}-2", **crib.told)

    assert late.returncode != 0
    assert "s/1.0005" in late.stdout + late.stderr
    assert "first" in late.stdout + late.stderr
    assert [each["job"] for each in crib.plans()] == ["first"]


def test_a_lost_answer_makes_no_second_plan(client: Client, crib: Crib, tmp_path: Path) -> None:
    """The first connection breaks when the plan is made already."""
    request = crib.request(tmp_path, "4711", "21.005")
    with losing_one_answer(crib.told["CRIB_ADDRESS"]) as (address, asked):
        done = client("plan", request, f"{crib.site}-1", **{**crib.told, "CRIB_ADDRESS": address})

    assert done.returncode == 0, done.stderr
    assert asked == [f"{crib.site}-1"] * 2
    (plan,) = crib.plans()
    assert plan["id"] in done.stdout


def held(crib: Crib, plan: dict[str, Any]) -> set[str]:
    """The blocks that a plan is promised."""
    return {each["block"] for each in crib.get(f"/v1/plans/{plan['id']}")["promises"]}


@contextmanager
def losing_one_answer(service: str) -> Iterator[tuple[str, list[str]]]:
    """A way to the service on which the first answer is lost, and the keys that came by it."""
    keys: list[str] = []

    class Way(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            keys.append(self.headers["Idempotency-Key"])
            names = ("Idempotency-Key", "Authorization", "Content-Type")
            answer = httpx.post(
                service + self.path,
                content=body,
                headers={name: self.headers[name] for name in names},
                timeout=PATIENCE_S,
            )
            if len(keys) == 1:
                self.close_connection = True
                return
            self.send_response(answer.status_code)
            self.send_header("Content-Length", str(len(answer.content)))
            self.end_headers()
            self.wfile.write(answer.content)

        def log_message(self, *_: object) -> None:
            """Keep quiet."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Way) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}", keys
        server.shutdown()
