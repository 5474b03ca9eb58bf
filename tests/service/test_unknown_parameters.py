"""Nothing that a client says in a query is ignored."""

from typing import Any

import pytest
from litestar.testing import TestClient


@pytest.mark.parametrize(
    "path", ["/openapi.json", "/docs/", "/docs/start.js", "/livez", "/v1/grades", "/guide"]
)
def test_no_page_ignores_a_query_parameter(client: TestClient[Any], path: str) -> None:
    answer = client.get(path, params={"limt": "3"})

    assert answer.status_code == 400
    assert answer.headers["content-type"] == "application/problem+json"


def test_every_unknown_parameter_is_named(client: TestClient[Any]) -> None:
    answer = client.get("/v1/grades", params={"limt": "3", "ofset": "1"})

    assert "'limt', 'ofset'" in answer.json()["detail"]
