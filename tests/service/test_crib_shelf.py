"""Sites, sets and blocks over HTTP, on both databases."""

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any, TypeAlias
from urllib.parse import parse_qsl

import pytest
from httpx import Response
from litestar.testing import TestClient

from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store

Client: TypeAlias = TestClient[Any]

NOW = datetime(2027, 3, 1, 8, tzinfo=UTC)
HALL = "/v1/sites/north-hall"


@pytest.fixture
def client(store: Store) -> Iterator[Client]:
    """A client of a service with an empty crib, where it is always 1 March 2027."""
    app = create_app(Settings(solve_workers=2), store=store, clock=lambda: NOW)
    with TestClient(app) as client:
        yield client


def put_site(client: Client) -> None:
    body = {"name": "North hall", "time_zone": "Europe/Berlin"}
    assert client.put(HALL, json=body).status_code == 201


def put_block(client: Client, name: str, **members: object) -> Response:
    body = {"id": name, "nominal": "1.005", "grade": "1", **members}
    return client.put(f"{HALL}/blocks/{name.replace('#', '%23')}", json=body)


class TestSites:
    def test_it_is_made_once_and_the_same_request_changes_nothing(self, client: Client) -> None:
        body = {"name": "North hall", "time_zone": "Europe/Berlin"}

        made = client.put(HALL, json=body)
        again = client.put(HALL, json=body)

        assert (made.status_code, again.status_code) == (201, 200)
        assert made.headers["location"] == HALL
        assert made.json() == again.json()
        assert made.headers["etag"] == again.headers["etag"] == '"1"'
        site = client.get(HALL).json()
        assert made.json() == {**site, "at_risk": []}
        assert client.get("/v1/sites").json() == {"sites": [site], "next": None}

    def test_a_change_needs_the_version_that_it_is_meant_for(self, client: Client) -> None:
        put_site(client)
        other = {"name": "South hall", "time_zone": "Europe/Berlin"}

        assert client.put(HALL, json=other).status_code == 428
        assert client.put(HALL, json=other, headers={"If-Match": '"7"'}).status_code == 412
        assert client.put(HALL, json=other, headers={"If-Match": 'W/"1"'}).status_code == 412
        there = client.put(HALL, json=other, headers={"If-None-Match": "*"})
        # Nobody changed it, it is merely there.
        assert (there.status_code, "changed" in there.text) == (412, False), there.text
        changed = client.put(HALL, json=other, headers={"If-Match": '"7", "1"'})

        assert (changed.status_code, changed.headers["etag"]) == (200, '"2"')
        # The answer got lost, so the client sends it again.
        again = client.put(HALL, json=other, headers={"If-Match": '"1"'})
        assert (again.status_code, again.headers["etag"]) == (200, '"2"')

    @pytest.mark.parametrize("version", ["*", '"1"'])
    def test_what_is_not_there_has_no_version_to_change(self, client: Client, version: str) -> None:
        body = {"name": "North hall", "time_zone": "Europe/Berlin"}

        refused = client.put(HALL, json=body, headers={"If-Match": version})

        assert refused.status_code == 412
        assert refused.json()["detail"].startswith("There is no site 'north-hall' to change;")
        assert client.get(HALL).status_code == 404

    def test_a_client_that_has_it_is_told_so(self, client: Client) -> None:
        put_site(client)

        kept = client.get(HALL, headers={"If-None-Match": 'W/"1", "9"'})

        assert (kept.status_code, kept.content, kept.headers["etag"]) == (304, b"", '"1"')
        assert client.get(HALL, headers={"If-None-Match": '"2"'}).status_code == 200

    @pytest.mark.parametrize("zone", ["Berlin", "Europe", "../etc/passwd", "UTC+1"])
    def test_an_unknown_time_zone_is_refused(self, client: Client, zone: str) -> None:
        refused = client.put(HALL, json={"name": "North hall", "time_zone": zone})

        assert refused.status_code == 422
        assert refused.json()["errors"][0]["pointer"] == "/time_zone"


class TestSets:
    def test_a_set_of_122_is_made_in_one_request(self, client: Client) -> None:
        put_site(client)

        made = client.put(
            f"{HALL}/sets/bench-3",
            json={"composition": "metric-122", "grade": "1", "missing": ["1.49"], "serial": "7"},
        )

        assert made.status_code == 201
        page = client.get(f"{HALL}/blocks", params={"set": "bench-3", "limit": 500}).json()
        assert len(page["blocks"]) == 121
        assert page["next"] is None
        assert {each["set"] for each in page["blocks"]} == {"bench-3"}
        assert "bench-3/1.49" not in {each["id"] for each in page["blocks"]}
        assert client.get(f"{HALL}/sets/bench-3").json() == made.json()
        assert client.get(f"{HALL}/sets").json()["sets"] == [made.json()]

    def test_sent_again_it_changes_nothing_and_brings_back_what_it_lacked(
        self, client: Client
    ) -> None:
        put_site(client)
        body = {"composition": "metric-122", "grade": "1", "missing": ["1.49"]}
        client.put(f"{HALL}/sets/bench-3", json=body)

        assert client.put(f"{HALL}/sets/bench-3", json=body).status_code == 200
        whole = {**body, "missing": []}
        assert client.put(f"{HALL}/sets/bench-3", json=whole).status_code == 428
        found = client.put(f"{HALL}/sets/bench-3", json=whole, headers={"If-Match": '"1"'})

        assert found.status_code == 200
        assert client.get(f"{HALL}/blocks/bench-3/1.49").json()["condition"] == "fit"

    def test_a_set_can_be_put_together_freely(self, client: Client) -> None:
        put_site(client)

        made = client.put(
            f"{HALL}/sets/saw",
            json={
                "unit": "in",
                "blocks": [{"id": "saw/1", "nominal": "1", "grade": "2", "serial": "88"}],
            },
        )

        assert made.status_code == 201, made.text
        block = client.get(f"{HALL}/blocks/saw/1").json()
        assert (block["unit"], block["nominal"], block["set"]) == ("in", "1", "saw")

    def test_what_is_wrong_is_pointed_to(self, client: Client) -> None:
        put_site(client)

        def pointers(body: dict[str, Any]) -> list[str]:
            refused = client.put(f"{HALL}/sets/bench-3", json=body)
            assert refused.status_code == 422
            return [each["pointer"] for each in refused.json()["errors"]]

        assert pointers({"composition": "metric-12"}) == ["/composition"]
        assert pointers({"composition": "metric-122", "grade": "9"}) == ["/grade"]
        assert pointers({"composition": "metric-122", "grade": "1", "missing": ["7.77"]}) == [
            "/missing/0"
        ]
        twice = [{"id": "a", "nominal": "1", "grade": "1"}] * 2
        assert pointers({"blocks": twice}) == ["/blocks/1/id"]
        assert pointers({"blocks": [{"id": "a", "nominal": "1"}]}) == ["/blocks/0"]
        assert client.get(f"{HALL}/sets/bench-3").status_code == 404


class TestBlocks:
    def test_it_keeps_all_that_is_said_of_it(self, client: Client) -> None:
        put_site(client)
        calibration = {"certificate": "K-1", "calibrated_on": "2027-02-10", "due_on": "2029-02-10"}

        made = put_block(
            client,
            "a/1.005#2",
            deviation="-0.04",
            expanded_uncertainty="0.05",
            serial="A 312",
            maker_number="613",
            calibration=calibration,
            uses=41,
        )

        assert made.status_code == 201, made.text
        assert made.headers["location"] == f"{HALL}/blocks/a/1.005%232"
        got = client.get(made.headers["location"])
        assert made.json() == {**got.json(), "at_risk": []}
        assert got.json()["uses"] == 41
        assert got.json()["calibration"]["due_on"] == "2029-02-10"

    def test_counters_and_condition_stay_when_they_are_left_out(self, client: Client) -> None:
        put_site(client)
        put_block(client, "a", uses=41, condition="damaged", condition_reason="scratched")

        changed = client.put(
            f"{HALL}/blocks/a",
            json={"id": "a", "nominal": "1.005", "grade": "0"},
            headers={"If-Match": '"1"'},
        ).json()

        assert (changed["grade"], changed["uses"], changed["version"]) == ("0", 41, 2)
        assert (changed["condition"], changed["condition_reason"]) == ("damaged", "scratched")

    def test_its_length_never_changes(self, client: Client) -> None:
        put_site(client)
        put_block(client, "a")

        refused = client.put(
            f"{HALL}/blocks/a",
            json={"id": "a", "nominal": "1.006", "grade": "1"},
            headers={"If-Match": "*"},
        )

        assert refused.status_code == 409

    def test_set_and_id_must_be_right(self, client: Client) -> None:
        put_site(client)

        no_set = put_block(client, "a", set="bench-9")
        other = client.put(f"{HALL}/blocks/b", json={"id": "a", "nominal": "1", "grade": "1"})

        assert no_set.json()["errors"][0]["pointer"] == "/set"
        assert other.json()["errors"][0]["pointer"] == "/id"
        assert client.get(f"{HALL}/blocks/a").status_code == 404

    @pytest.mark.parametrize("name", ["..", ".hidden", "a//b", "a b", "-", "x" * 129])
    def test_ids_that_trip_addresses_are_refused(self, client: Client, name: str) -> None:
        put_site(client)
        body = {"blocks": [{"id": name, "nominal": "1", "grade": "1"}]}

        assert client.put(f"{HALL}/sets/a", json=body).status_code == 400


class TestLists:
    def test_pages_follow_one_another(self, client: Client) -> None:
        put_site(client)
        body = {"composition": "metric-122", "grade": "1"}
        client.put(f"{HALL}/sets/bench-3", json=body)

        found: list[str] = []
        address = f"{HALL}/blocks?limit=50&set=bench-3"
        sizes = []
        while address:
            page = client.get(address)
            found += [each["id"] for each in page.json()["blocks"]]
            sizes.append(len(page.json()["blocks"]))
            address = page.links.get("next", {}).get("url", "")

        assert sizes == [50, 50, 22]
        assert len(set(found)) == 122

    def test_somebody_at_the_crib_finds_what_they_look_for(self, client: Client) -> None:
        put_site(client)
        put_block(client, "due", calibration={"due_on": "2027-02-28"})
        put_block(client, "soon", calibration={"due_on": "2027-03-31"})
        put_block(client, "today", calibration={"due_on": "2027-03-01"})
        put_block(client, "inch", nominal=".5", unit="in", grade="AS-1")
        put_block(client, "bad", condition="missing")

        def found(**parameters: str) -> list[str]:
            answer = client.get(f"{HALL}/blocks", params=parameters)
            assert answer.status_code == 200, answer.text
            return [each["id"] for each in answer.json()["blocks"]]

        assert found(due_before="2027-03-31") == ["due", "today"]
        assert found(overdue="true") == ["due"]
        assert found(nominal="0.5", unit="in") == found(nominal=".5", unit="in") == ["inch"]
        assert found(nominal="12.7") == ["inch"]
        assert found(condition="missing") == ["bad"]
        assert found(out="true") == []
        assert len(found(out="false")) == 5
        assert found(late="true") == []

    @pytest.mark.parametrize(
        "query",
        [
            "limit=0",
            "limit=501",
            "due_before=20270331",
            "out=yes",
            "nominal=x",
            "unit=ft",
            "set=",
            "set=%00",
        ],
    )
    def test_malformed_parameters_are_refused(self, client: Client, query: str) -> None:
        put_site(client)

        assert client.get(f"{HALL}/blocks?{query}").status_code == 400

    def test_an_unknown_site_is_not_found(self, client: Client) -> None:
        for address in ("", "/sets", "/blocks", "/sets/a", "/blocks/a"):
            assert client.get(HALL + address).status_code == 404
        assert client.put(f"{HALL}/sets/a", json={}).status_code == 404


def test_without_a_store_there_is_no_crib() -> None:
    with TestClient(create_app(Settings(solve_workers=2))) as client:
        refused = client.get("/v1/sites")

    assert refused.status_code == 404
    assert refused.json()["type"] == "/problems/no-store"


@pytest.mark.parametrize(
    "path",
    [
        "/v1/sites",
        "/v1/plans?site=north-hall",
        *(
            f"{HALL}/{name}"
            for name in (
                "sets",
                "blocks",
                "loans",
                "risks",
                "webhooks",
                "history",
                "inventory",
                "calibration-due",
                "calibration-due?calendar=true",
            )
        ),
    ],
)
def test_a_client_that_has_a_list_is_told_so(client: Client, path: str) -> None:
    """RFC 9110, 13.1.2."""
    put_site(client)
    tag = client.get(path).headers["ETag"]

    kept = client.get(path, headers={"If-None-Match": tag})

    assert (kept.status_code, kept.content, kept.headers["ETag"]) == (304, b"", tag)


def test_lists_lead_to_the_next_page_behind_a_proxy(store: Store) -> None:
    settings = Settings(solve_workers=2, path_prefix="/tools/wrung")
    app = create_app(settings, store=store, clock=lambda: NOW)
    with TestClient(app) as client:
        put_site(client)
        put_block(client, "a")
        need = {"needed_from": "2027-03-02T08:00:00Z", "needed_until": "2027-03-02T09:00:00Z"}
        asked = {
            "unit": "mm",
            "crib": {"site": "north-hall", **need},
            "targets": [{"kind": "length", "ref": "slot", "length": "1.005"}],
        }
        made = client.post("/v1/plans", json={**asked, "job": "1"})
        put_block(client, "b")
        client.post("/v1/plans", json={**asked, "job": "2"})
        listed = client.get("/v1/plans?site=north-hall&limit=1")

    assert made.headers["Location"] == f"/tools/wrung/v1/plans/{made.json()['id']}"
    path, _, query = listed.headers["Link"].removeprefix("<").partition(">")[0].partition("?")
    assert path == "/tools/wrung/v1/plans"
    assert {("site", "north-hall"), ("limit", "1")} < set(parse_qsl(query))
