"""Sites never see one another: every operation, asked with a key of another site."""

import json
from collections.abc import Iterator
from typing import Any

import pytest
from litestar.testing import TestClient

from store.rows import START, add_block, add_site
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store
from wrung_service.usecases.keys import WantedKey, make_key

OWN, OTHER, NOWHERE = "north-hall", "south-hall", "nowhere"
DOCUMENT = create_app(Settings(solve_workers=1)).document
PUBLIC = {"/", "/livez", "/readyz", "/problems", "/problems/{problem_name}"}
STATELESS = {
    "/v1/stacks",
    "/v1/cards",
    "/v1/coverage",
    "/v1/stack-checks",
    "/v1/certificate-imports",
    "/v1/soaking-times",
    "/v1/contact-compressions",
    "/v1/drift-estimates",
}
ASKING = {"/v1/plan-previews", "/v1/batches", "/v1/batches/{batch_id}/cancel"}
"""Change nothing of a crib; whoever may ask may also have done with asking."""


def operations() -> list[tuple[str, str, dict[str, Any]]]:
    return [
        (path, method, operation)
        for path, methods in DOCUMENT["paths"].items()
        for method, operation in methods.items()
    ]


OF_A_SITE = [each for each in operations() if "{site_id}" in each[0]]
OF_A_PLAN = [each for each in operations() if "{plan_id}" in each[0]]


class Shop:
    """Two sites with a plan in the other one, and whoever has a key of the first."""

    def __init__(self, store: Store, client: TestClient[Any]) -> None:
        self._client = client
        self._own, self._all = (self._key(store, site) for site in (OWN, None))
        planned = {
            "unit": "mm",
            "crib": {
                "site": OTHER,
                "needed_from": "2027-03-02T08:00:00Z",
                "needed_until": "2027-03-02T09:00:00Z",
            },
            "job": "7000",
            "targets": [{"kind": "length", "ref": "a", "length": "1"}],
        }
        made = client.post("/v1/plans", json=planned, headers=self._all)
        assert made.status_code == 201, made.text
        self.plan = made.json()["id"]

    @staticmethod
    def _key(store: Store, site: str | None) -> dict[str, str]:
        wanted = WantedKey(holder=f"of {site}", scopes=("admin",), site=site)
        made = make_key(store, wanted, by="a test", now=START)
        return {"Authorization": f"Bearer {made.text}"}

    def ask(self, path: str, method: str, operation: dict[str, Any], **ids: str) -> tuple[int, str]:
        """Status and text of the answer to the operation's own example, its ids taken out."""
        for parameter in operation.get("parameters", []):
            if parameter["in"] == "path":
                value = ids.get(parameter["name"], parameter["example"])
                path = path.replace(f"{{{parameter['name']}}}", value)
        content = operation.get("requestBody", {}).get("content", {})
        media: str = next(iter(content), "application/json")
        examples: dict[str, Any] = content.get(media, {}).get("examples", {})
        example = next((each["value"] for each in examples.values()), None)
        body = json.dumps(example).encode() if media.endswith("json") else str(example).encode()
        headers = {**self._own, "Content-Type": media, "If-None-Match": "*"}
        answer = self._client.request(method, path, content=body, headers=headers)
        text = answer.text.replace(answer.headers["x-request-id"], "")
        for value in ids.values():
            text = text.replace(value, "")
        return answer.status_code, text

    def get(self, path: str) -> Any:  # noqa: ANN401 - whatever JSON it is
        """The answer to whoever has a key of the first site."""
        return self._client.get(path, headers=self._own)


@pytest.fixture
def shop(store: Store) -> Iterator[Shop]:
    with store.writing() as connection:
        for site in (OWN, OTHER):
            add_site(connection, site)
            add_block(connection, f"secret-of-{site}", site=site)
    settings = Settings(solve_workers=1, access="required", requests_per_minute=0)
    app = create_app(settings, store=store, clock=lambda: START)
    with TestClient(app.edge) as client:
        yield Shop(store, client)


def test_another_site_is_as_if_it_were_not_there(shop: Shop) -> None:
    assert len(OF_A_SITE) > 5
    for path, method, operation in OF_A_SITE:
        other = shop.ask(path, method, operation, site_id=OTHER)
        nowhere = shop.ask(path, method, operation, site_id=NOWHERE)
        assert other == nowhere, (method, path)
        assert other[0] == 404, (method, path, other)


def test_a_plan_of_another_site_is_as_if_it_were_not_there(shop: Shop) -> None:
    assert OF_A_PLAN
    for path, method, operation in OF_A_PLAN:
        other = shop.ask(path, method, operation, plan_id=shop.plan)
        nowhere = shop.ask(path, method, operation, plan_id="f" * 32)
        assert other == nowhere, (method, path)
        assert other[0] == 404, (method, path, other)


def test_lists_leave_the_other_site_out(shop: Shop) -> None:
    assert [each["id"] for each in shop.get("/v1/sites").json()["sites"]] == [OWN]
    assert shop.get(f"/v1/plans?site={OTHER}").status_code in {404, 422}
    assert f"secret-of-{OTHER}" not in shop.get(f"/v1/sites/{OWN}/blocks").text


def test_whoever_changes_something_needs_more_than_read() -> None:
    """What asks for no scope, or only for `read`, is named here."""
    for path, method, operation in operations():
        scopes = {operation["x-required-scope"]} if operation.get("security") else set()
        if path in PUBLIC:
            assert not scopes, path
        elif "/webhooks" in path:
            # Their addresses may hold passwords of the receivers.
            assert scopes == {"admin"}, (method, path)
        elif method == "get" or path in STATELESS | ASKING:
            assert scopes == {"read"}, (method, path)
        else:
            assert scopes <= {"plan", "crib", "admin"}, (method, path)
            assert scopes, (method, path)
