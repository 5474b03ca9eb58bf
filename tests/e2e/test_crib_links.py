"""The crib by its links: plans, issues and returns one after another, as the document leads."""

import copy
from collections.abc import Iterator
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, settings
from hypothesis.errors import Flaky
from litestar.testing import TestClient
from schemathesis import Case

from contract.accepted import with_numbers
from e2e.processes import Server, running
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store
from wrung_service.store.migrating import migrate
from wrung_service.usecases.examine_store import examine

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.long

SITE = "north-hall"
BLOCKS = ["bench-1/1.005", "bench-1/1.34", "bench-1/10", "bench-1/20", "bench-1/2.5"]
LENGTHS = ["12.345", "11.34", "21.005", "2.5", "33.84"]
WALKS = 25
LIMITS = Settings(solve_workers=2, max_time_limit_ms=200, default_time_limit_ms=100)


def about_real_things(document: dict[str, Any]) -> dict[str, Any]:
    """The document narrowed to what the crib has: ids made up at random would only meet 404."""
    narrow = copy.deepcopy(document)
    known = {"site_id": [SITE], "set_id": ["bench-1"], "block_id": BLOCKS}
    for methods in narrow["paths"].values():
        for operation in methods.values():
            for parameter in operation.get("parameters", []):
                if parameter["name"] in known and parameter["in"] == "path":
                    parameter["schema"] = {"enum": known[parameter["name"]]}
    schemas = narrow["components"]["schemas"]
    schemas["CribOnRequest"]["properties"]["site"] = {"enum": [SITE]}
    schemas["WantedLength"]["properties"]["length"] = {"enum": LENGTHS}
    schemas["BlockIssue"]["properties"]["blocks"]["items"] = {"enum": BLOCKS}
    schemas["ReturnedBlock"]["properties"]["id"] = {"enum": BLOCKS}
    return narrow


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> str:
    path: Path = tmp_path_factory.mktemp("crib") / "crib.db"
    return f"sqlite:///{path}"


@pytest.fixture(scope="module")
def server(place: str) -> Iterator[Server]:
    """A server with a crib of one set."""
    fill(place)
    limits = ("--default-time-limit-ms", "100", "--max-time-limit-ms", "200")
    # What is made up must not be looked up, and even less sent anything.
    with running("--store-url", place, "--background", "off", *limits) as server:
        yield server


def fill(place: str) -> None:
    """One set, and a plan whose blocks are out; with more time than the server has."""
    migrate(place)
    store = Store(place)
    with TestClient(create_app(Settings(solve_workers=1, background="off"), store=store)) as client:
        new = {"If-None-Match": "*"}
        site = {"name": "North hall", "time_zone": "Europe/Berlin"}
        bench = {"composition": "metric-88", "grade": "1", "material": "steel"}
        for path, body in (
            (f"/v1/sites/{SITE}", site),
            (f"/v1/sites/{SITE}/sets/bench-1", bench),
        ):
            answer = client.put(path, json=body, headers=new)
            assert answer.status_code == 201, answer.text
        planned = {
            "unit": "mm",
            "crib": {
                "site": SITE,
                "needed_from": "2127-03-01T08:00:00Z",
                "needed_until": "2127-03-01T09:00:00Z",
            },
            "job": "4711",
            "targets": [{"kind": "length", "ref": "a", "length": "11.005"}],
        }
        plan = client.post("/v1/plans", json=planned)
        assert plan.status_code == 201, plan.text
        taken = [each["block"] for each in plan.json()["promises"]]
        out = client.post(f"/v1/sites/{SITE}/issues", json={"blocks": taken})
        assert out.status_code == 200, out.text


class Walks:
    """What was walked so far, and what was wrong on the way."""

    def __init__(self) -> None:
        self.done = 0
        self.wrong: list[Exception] = []


def machine(address: str, walks: Walks) -> type[Any]:
    """What walks from answer to request along the links."""
    config = schemathesis.Config.from_dict(
        {
            "seed": 20261128,
            "generation": {"deterministic": True},
            "checks": {
                "positive_data_acceptance": {
                    "expected-statuses": ["2xx", "304", "404", "409", "412", "413", "422", "428"]
                },
                "negative_data_rejection": {"expected-statuses": ["4xx"]},
            },
        }
    )
    document = about_real_things(with_numbers(create_app(LIMITS).document))
    schema = schemathesis.openapi.from_dict(document, config=config)
    walked = schema.include(path_regex="^/v1/(sites|plan)").as_state_machine()

    # schemathesis makes the class while the program runs, so no type checker knows its base.
    class Walk(walked):  # type: ignore[misc, valid-type]
        def get_call_kwargs(self, case: Case[Any]) -> dict[str, Any]:
            del case
            return {"base_url": address}

        def validate_response(self, *args: object, **kwargs: object) -> None:
            try:
                super().validate_response(*args, **kwargs)
            except Exception as error:
                walks.wrong.append(error)
                raise

        def teardown(self) -> None:
            walks.done += 1

    return Walk


def test_links_lead_through_a_day_without_harm(server: Server, place: str) -> None:
    """Then the store is looked at by what trusts none of those who wrote it."""
    walks = Walks()
    walk = machine(server.address, walks)
    while walks.done < WALKS:
        # A crib that changes answers the same steps in another way the next time, which Hypothesis
        # takes for a test that is not repeatable. Then it begins anew, with the crib as it is.
        with suppress(Flaky):
            walk.run(
                settings=settings(
                    max_examples=WALKS - walks.done,
                    stateful_step_count=12,
                    deadline=None,
                    database=None,
                    phases=[Phase.generate],
                    suppress_health_check=list(HealthCheck),
                )
            )
        assert not walks.wrong, walks.wrong
    with server.client() as client:
        plans = client.get("/v1/plans", params={"site": SITE, "limit": 200}).json()["plans"]
        loans = client.get(f"/v1/sites/{SITE}/loans").json()["loans"]
    assert plans
    assert loans
    store = Store(place)
    checks = examine(store)
    store.close()
    assert all(check.right for check in checks), checks
