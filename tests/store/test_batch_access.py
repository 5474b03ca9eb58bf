"""Who sees a batch, and what its requests see."""

import json
from collections.abc import Iterator
from datetime import timedelta

import pytest
from litestar.testing import TestClient

from store.planning import problem_of
from store.rows import SITE, START, Clock, add_site
from store.test_batches import Client, one, work
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store
from wrung_service.usecases.keys import WantedKey, make_key
from wrung_service.usecases.scopes import Scope


class TestAccess:
    @pytest.fixture
    def asking(self, store: Store, clock: Clock) -> Iterator[Client]:
        with store.writing() as connection:
            add_site(connection, SITE, "a")
            add_site(connection, "south-hall", "c")
        settings = Settings(solve_workers=1, access="required", requests_per_minute=0)
        with TestClient(create_app(settings, store=store, clock=clock)) as asking:
            yield asking

    def key(
        self, store: Store, holder: str, scope: Scope, site: str | None = None
    ) -> dict[str, str]:
        wanted = WantedKey(holder=holder, scopes=(scope,), site=site)
        text = make_key(store, wanted, by="a test", now=START - timedelta(days=2)).text
        return {"Authorization": f"Bearer {text}"}

    def test_a_batch_is_its_callers_or_its_sites(self, asking: Client, store: Store) -> None:
        north = self.key(store, "north", "read", site=SITE)
        other = self.key(store, "other", "read", site=SITE)
        south = self.key(store, "south", "admin", site="south-hall")
        body = {"requests": [one()]}
        own = asking.post("/v1/batches", json=body, headers=north).headers["Location"]
        of_site = asking.post(f"/v1/batches?site={SITE}", json=body, headers=north)
        shared = of_site.headers["Location"]

        for path, who, status in (
            (own, north, 200),
            (own, other, 404),
            (own, south, 404),
            (shared, other, 200),
            (shared, south, 404),
        ):
            for part in ("", "/results?wait=false"):
                assert asking.get(f"{path}{part}", headers=who).status_code == status
        for who, ids in ((north, {own, shared}), (other, {shared}), (south, set())):
            listed = asking.get("/v1/batches", headers=who).json()["batches"]
            assert {f"/v1/batches/{each['id']}" for each in listed} == ids
        hidden = asking.get("/v1/batches?site=south-hall", headers=north)
        assert problem_of(hidden) == "not-found"
        refused = asking.post("/v1/batches?site=south-hall", json=body, headers=north)
        assert problem_of(refused) == "not-found"
        assert problem_of(asking.post(f"{shared}/cancel", headers=other)) == "forbidden"
        assert problem_of(asking.post(f"{shared}/cancel", headers=south)) == "not-found"
        planner = self.key(store, "planner", "plan", site=SITE)
        assert asking.post(f"{shared}/cancel", headers=planner).json()["state"] == "cancelled"

    def test_its_requests_see_what_its_caller_sees(
        self, asking: Client, store: Store, store_url: str, clock: Clock
    ) -> None:
        """And in a batch of a site nothing but that site, whoever posted it."""
        everything = self.key(store, "everything", "read")
        north = self.key(store, "north", "read", site=SITE)
        from_crib = [one(blocks=[], crib={"site": each}) for each in (SITE, "south-hall")]
        body = {"requests": from_crib}
        paths = {
            name: asking.post(f"/v1/batches{query}", json=body, headers=who).headers["Location"]
            for name, who, query in (
                ("everything", everything, ""),
                ("north", north, ""),
                ("of its site", everything, f"?site={SITE}"),
            )
        }
        work(store_url, clock)

        for name, path in paths.items():
            lines = asking.get(f"{path}/results", headers=everything if name != "north" else north)
            statuses = [json.loads(line)["status"] for line in lines.text.splitlines()]
            assert statuses == ([200, 200] if name == "everything" else [200, 422]), name
