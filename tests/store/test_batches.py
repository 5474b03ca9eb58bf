"""``/v1/batches``: posted, answered once and in order, watched, cancelled, and gone in the end."""

import json
from collections.abc import Iterator
from datetime import timedelta
from typing import Any, TypeAlias

import pytest
import sqlalchemy as sa
from httpx import Response
from litestar.testing import TestClient

from store.batch_workers import run_until_idle
from store.hooks import add_endpoint, deliveries
from store.planning import problem_of
from store.rows import SITE, Clock, add_block, add_site
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store import tables
from wrung_service.store.engine import Store
from wrung_service.usecases.batches.ending import expire_batches

Client: TypeAlias = TestClient[Any]

SETTINGS = Settings(solve_workers=2, max_batch_requests=50, max_waiting_requests=60)
HOURS = SETTINGS.batches_kept
JSON = "application/json"
LINES = {"Content-Type": "application/x-ndjson"}
LATER = {"Prefer": "respond-async"}


@pytest.fixture
def client(store: Store, clock: Clock) -> Iterator[Client]:
    with store.writing() as connection:
        add_site(connection, SITE, "a", "b")
        add_site(connection, "south-hall", "c")
    with TestClient(create_app(SETTINGS, store=store, clock=clock)) as client:
        yield client


def one(ref: str = "t", length: str = "5", **members: object) -> dict[str, Any]:
    """A request with a block of its own that is the answer."""
    return {
        "unit": "mm",
        "blocks": [{"id": "only", "nominal": length, "limit_deviation": "0.2"}],
        "targets": [{"kind": "length", "ref": ref, "length": length}],
        **members,
    }


def post(client: Client, *requests: object, query: str = "", **headers: str) -> Response:
    return client.post(f"/v1/batches{query}", json={"requests": requests}, headers=headers)


def posted(client: Client, *requests: object, query: str = "") -> str:
    """The address of a new batch."""
    response = post(client, *requests, query=query)
    assert response.status_code == 202, response.text
    return response.headers["Location"]


def work(store_url: str, clock: Clock) -> None:
    run_until_idle(SETTINGS, Store(store_url), clock=clock)


def results(client: Client, path: str, query: str = "") -> list[dict[str, Any]]:
    response = client.get(f"{path}/results{query}")
    assert response.headers["content-type"] == "application/x-ndjson"
    return [json.loads(line) for line in response.text.splitlines()]


class TestPosting:
    def test_json_and_lines_are_the_same(
        self, client: Client, store_url: str, clock: Clock
    ) -> None:
        requests = [one(f"t{n}", str(n + 1)) for n in range(3)]
        lines = "\n\n".join(map(json.dumps, requests)) + "\n"

        as_json = post(client, *requests)
        as_lines = client.post("/v1/batches", content=lines, headers=LINES)

        for response in (as_json, as_lines):
            assert response.status_code == 202
            assert int(response.headers["Retry-After"]) >= 1
            assert response.headers["Location"] == f"/v1/batches/{response.json()['id']}"
            assert (response.json()["state"], response.json()["total"]) == ("waiting", 3)
        work(store_url, clock)
        for response in (as_json, as_lines):
            found = results(client, response.headers["Location"])
            assert [each["position"] for each in found] == [0, 1, 2]
            assert [each["answer"]["stacks"][0]["target"] for each in found] == ["t0", "t1", "t2"]

    def test_what_cannot_be_read_is_refused_whole(self, client: Client) -> None:
        refused: dict[str | bytes, str] = {
            '{"requests": []}': "invalid-request",
            '{"requests": 1}': "invalid-request",
            '{"requests": [1]}': "invalid-request",
            '{"request": [{}]}': "invalid-request",
            '{"requests": [{]}': "malformed-json",
            b'{"requests": [{"a": "\xff"}]}': "malformed-json",
            "": "malformed-json",
            json.dumps({"requests": [{}] * 51}): "invalid-request",
        }
        for body, problem in refused.items():
            answer = client.post(
                "/v1/batches", content=body, headers={"Content-Type": "application/json"}
            )
            assert (problem_of(answer), answer.status_code) == (problem, 400), body
        for lines in (b"", b"\n", b"{}\n{", b"[]", b"{}\n" * 51, b'{"a": "\xff"}'):
            answer = client.post("/v1/batches", content=lines, headers=LINES)
            assert answer.status_code in {400, 413}, lines
        assert client.post("/v1/batches", content="x").status_code == 415

    def test_one_mistake_stops_no_other_request(
        self, client: Client, store_url: str, clock: Clock
    ) -> None:
        """A problem stands in its place, the one that it would have got alone."""
        wrong = one(blocks=[], exclude=1)
        path = posted(client, one("a"), wrong, one("b"))
        work(store_url, clock)

        first, second, third = results(client, path)

        assert (first["status"], third["status"]) == (200, 200)
        alone = client.post("/v1/stacks", json=wrong).json()
        same = {"type", "title", "status", "detail", "errors"}
        assert {key: second["problem"][key] for key in same} == {key: alone[key] for key in same}
        assert (second["status"], second["answer"]) == (400, None)
        status = client.get(path).json()
        assert (status["state"], status["answered"], status["failed"]) == ("done", 3, 1)

    def test_problems_are_in_the_language_of_whoever_posted_it(
        self, client: Client, store_url: str, clock: Clock
    ) -> None:
        wrong = one(exclude=1)
        german = {"Accept-Language": "de-CH, en;q=0.5"}
        for headers in ({}, german):
            path = post(client, wrong, **headers).headers["Location"]
            work(store_url, clock)
            (only,) = results(client, path)
            alone = client.post("/v1/stacks", json=wrong, headers=headers).json()
            said = {"title", "detail", "errors"}
            assert {e: only["problem"][e] for e in said} == {e: alone[e] for e in said}

    def test_a_key_makes_one_batch_of_two_requests(self, client: Client) -> None:
        key = {"Idempotency-Key": "nightly"}
        first, again = (post(client, one(), **key) for _ in range(2))

        assert first.json() == again.json()
        assert first.headers["Location"] == again.headers["Location"]
        assert problem_of(post(client, one("other"), **key)) == "idempotency-key-reused"
        other_site = post(client, one(), query=f"?site={SITE}", **key)
        assert problem_of(other_site) == "idempotency-key-reused"

    def test_nobody_has_more_waiting_than_is_allowed(self, client: Client) -> None:
        posted(client, *[one()] * 50)

        refused = post(client, *[one()] * 11)

        assert (problem_of(refused), refused.status_code) == ("too-many-requests", 429)
        assert int(refused.headers["Retry-After"]) >= 1
        posted(client, *[one()] * 10)

    def test_a_body_that_is_more_than_its_requests_is_refused(self, client: Client) -> None:
        refused = client.post("/v1/batches", json={"requests": [one()], "more": 1})
        assert (refused.status_code, problem_of(refused)) == (400, "invalid-request")
        assert [each["pointer"] for each in refused.json()["errors"]] == ["/more"]

    def test_an_unknown_site_has_none(self, client: Client) -> None:
        assert problem_of(post(client, one(), query="?site=nowhere")) == "not-found"


def test_a_request_need_not_be_answered_at_once(
    client: Client, store_url: str, clock: Clock
) -> None:
    """RFC 7240: the preference is said to be met, and its answer is that of a batch of one."""
    later = client.post("/v1/stacks", json=one("x"), headers={"Prefer": "wait=1, Respond-Async"})

    assert (later.status_code, later.headers["Preference-Applied"]) == (202, "respond-async")
    work(store_url, clock)
    (only,) = results(client, later.headers["Location"])
    alone = client.post("/v1/stacks", json=one("x"), headers={"Prefer": "return=minimal"})
    differing = {"solve_ms": 0, "waited_ms": 0}
    assert {**only["answer"], **differing} == {**alone.json(), **differing}
    assert client.get(later.headers["Location"]).json()["site"] is None
    csv = {"Prefer": "respond-async", "Accept": "text/csv"}
    assert client.post("/v1/stacks", json=one("x"), headers=csv).status_code == 200


def test_a_single_request_belongs_to_the_site_whose_crib_it_names(client: Client) -> None:
    """So its webhooks tell of it. What makes no sense is for the answer to say, as ever."""
    for crib, site in (
        ({"site": SITE}, SITE),
        ({"site": "nowhere"}, None),
        ({"site": "a\x00"}, None),
        ({"site": 1}, None),
        (1, None),
    ):
        body = one(blocks=[], crib=crib)
        later = client.post("/v1/stacks", json=body, headers=LATER)
        assert (later.status_code, later.json()["site"]) == (202, site)
    broken = client.post("/v1/stacks", content=b"{", headers={**LATER, "Content-Type": JSON})
    assert problem_of(broken) == "malformed-json"


class TestReading:
    def test_results_go_on_behind_a_position(
        self, client: Client, store_url: str, clock: Clock
    ) -> None:
        path = posted(client, *[one(f"t{n}") for n in range(4)])
        work(store_url, clock)

        assert [each["position"] for each in results(client, path, "?after=1")] == [2, 3]
        assert results(client, path, "?after=3") == []
        page = client.get(f"{path}/results", headers={"Accept": "application/json"}).json()
        assert [each["position"] for each in page["results"]] == [0, 1, 2, 3]
        last = client.get(
            f"{path}/results?after={page['next']}", headers={"Accept": "application/json"}
        )
        assert last.json() == {"results": [], "next": None}
        assert problem_of(client.get(f"{path}/results?after=x")) == "invalid-parameter"

    def test_lines_end_before_the_first_gap(self, client: Client, store: Store) -> None:
        """What a slower worker still has to answer is waited for; after the end nothing is."""
        path = posted(client, one(), one(), one())
        name = path.rpartition("/")[2]
        rows = [{"batch_id": name, "position": n, "line": f'{{"position":{n}}}'} for n in (0, 2)]
        with store.writing() as connection:
            connection.execute(sa.insert(tables.batch_answer), rows)

        assert [each["position"] for each in results(client, path, "?wait=false")] == [0]
        as_json = {"Accept": "application/json"}
        page = client.get(f"{path}/results?after=0", headers=as_json).json()
        assert page == {"results": [], "next": 0}
        client.post(f"{path}/cancel")
        assert [each["position"] for each in results(client, path)] == [0, 2]

    def test_events_are_told_once(self, client: Client, store_url: str, clock: Clock) -> None:
        path = posted(client, one(), one())
        work(store_url, clock)

        told = client.get(f"{path}/events", headers={"Last-Event-ID": "1"})

        assert told.headers["content-type"].startswith("text/event-stream")
        kind, number, data = told.text.strip().split("\n")
        assert (kind, number) == ("event: end", "id: end")
        assert json.loads(data.removeprefix("data: ")) == client.get(path).json()
        again = client.get(f"{path}/events", headers={"Last-Event-ID": "end"})
        assert (again.status_code, again.text) == (204, "")
        assert client.head(f"{path}/events").status_code == 200

    def test_an_unknown_batch_is_not_found(self, client: Client) -> None:
        for path in ("", "/results", "/events"):
            assert problem_of(client.get(f"/v1/batches/nothing{path}")) == "not-found"
        assert problem_of(client.post("/v1/batches/nothing/cancel")) == "not-found"


class TestEnding:
    def test_a_cancelled_batch_keeps_what_it_has(
        self, client: Client, store_url: str, clock: Clock
    ) -> None:
        path = posted(client, one(), one())

        ended = client.post(f"{path}/cancel").json()

        assert (ended["state"], ended["answered"]) == ("cancelled", 0)
        assert client.post(f"{path}/cancel").json() == ended
        work(store_url, clock)
        assert client.get(path).json() == ended
        assert results(client, path) == []

    def test_it_ends_when_its_time_is_over_and_is_gone_later(
        self, client: Client, store: Store, clock: Clock
    ) -> None:
        path = posted(client, one(), one())
        clock.now += HOURS
        expire_batches(store, clock.now, HOURS)
        assert client.get(path).json()["state"] == "expired"

        clock.now += HOURS - timedelta(seconds=1)
        expire_batches(store, clock.now, HOURS)
        assert client.get(path).status_code == 200
        clock.now += timedelta(seconds=1)
        expire_batches(store, clock.now, HOURS)

        assert client.get(path).status_code == 404
        with store.reading() as connection:
            for table in (tables.batch_item, tables.batch_answer, tables.batch_chunk):
                assert (
                    connection.execute(sa.select(sa.func.count()).select_from(table)).scalar_one()
                    == 0
                )

    def test_webhooks_and_history_of_its_site_tell_of_it(
        self, client: Client, store: Store, store_url: str, clock: Clock
    ) -> None:
        add_endpoint(store, events=("batch.ended",))
        path = posted(client, one(), one(exclude=1), query=f"?site={SITE}")
        work(store_url, clock)

        (told,) = deliveries(store)

        message = json.loads(told.body)
        assert message["type"] == "batch.ended"
        assert message["data"] == {
            "site": SITE,
            "batch": path.rpartition("/")[2],
            "state": "done",
            "total": 2,
            "answered": 2,
            "failed": 1,
        }
        history = client.get(f"/v1/sites/{SITE}/history?kind=batch").json()["entries"]
        assert [each["what"] for each in history] == ["batch.made", "batch.done"]


def test_the_list_has_the_newest_first(client: Client, clock: Clock) -> None:
    """In pages, also of those that were posted at the same moment."""
    paths = [posted(client, one()) for _ in range(3)]
    clock.now += timedelta(seconds=1)
    paths.append(posted(client, one(), query=f"?site={SITE}"))
    client.post(f"{paths[0]}/cancel")

    def listed(query: str) -> list[str]:
        found, path = list[str](), f"/v1/batches?{query}"
        while path:
            page = client.get(path)
            assert page.status_code == 200, page.text
            found += [f"/v1/batches/{each['id']}" for each in page.json()["batches"]]
            path = page.links["next"]["url"] if page.json()["next"] else ""
        return found

    assert listed("limit=1") == listed("limit=2") == listed("")
    assert listed("")[0] == paths[3]
    assert sorted(listed("")) == sorted(paths)
    assert listed(f"site={SITE}") == [paths[3]]
    assert listed("state=cancelled") == [paths[0]]
    for query in ("state=x", "limit=0", "cursor=x"):
        assert problem_of(client.get(f"/v1/batches?{query}")) == "invalid-parameter"
    assert problem_of(client.get("/v1/batches?site=nowhere")) == "not-found"


def test_without_a_store_it_is_said_what_to_set() -> None:
    with TestClient(create_app(Settings(solve_workers=1))) as client:
        refused = post(client, one())
        assert (problem_of(refused), refused.status_code) == ("no-store", 404)
        assert "WRUNG_STORE_URL" in refused.json()["detail"]
        for path in ("x", "x/results", "x/events"):
            assert problem_of(client.get(f"/v1/batches/{path}")) == "no-store"
        later = {"Prefer": "respond-async"}
        assert client.post("/v1/stacks", json=one(), headers=later).status_code == 200


def test_requests_take_the_blocks_of_the_crib(
    client: Client, store: Store, store_url: str, clock: Clock
) -> None:
    with store.writing() as connection:
        add_block(connection, "long", nominal=700_000_000)
    path = posted(client, one("t", "7", blocks=[], crib={"site": SITE}))
    work(store_url, clock)

    (only,) = results(client, path)

    assert only["answer"]["stacks"][0]["blocks"][0]["id"] == "long"
