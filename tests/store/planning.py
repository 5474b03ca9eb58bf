"""Plans over HTTP, as tests of the store ask for them."""

from typing import Any, TypeAlias

import sqlalchemy as sa
from httpx import Response
from litestar.testing import TestClient

from store.rows import SITE, START, add_block, add_site, hours
from wrung_service.store import tables
from wrung_service.store.engine import Store

Client: TypeAlias = TestClient[Any]
QUANTA = 100_000_000  # of 0.01 nm in a millimetre


def fill(store: Store) -> None:
    """A crib of a few blocks, two of them of one length."""
    with store.writing() as connection:
        add_site(connection)
        lengths = {
            "1": 1,
            "2": 2,
            "3": 3,
            "3-too": 3,
            "10": 10,
            "40": 40,
            "70": 70,
            "5": 5,
            "5-too": 5,
        }
        for name, length in lengths.items():
            add_block(connection, name, nominal=length * QUANTA)


def asked(*lengths: str, start: float = 0, end: float = 1, **members: object) -> dict[str, Any]:
    """The body of a plan for those hours."""
    return {
        "unit": "mm",
        "crib": {"site": SITE, **window(start, end)},
        "job": "4711",
        # Long, so that a busy machine makes nobody wait in vain.
        "time_limit_ms": 60_000,
        "targets": [
            {"kind": "length", "ref": f"t{place}", "length": each}
            for place, each in enumerate(lengths)
        ],
        **members,
    }


def window(start: float, end: float) -> dict[str, str]:
    """A time of need, in hours after the start."""
    return {"needed_from": hours(start).isoformat(), "needed_until": hours(end).isoformat()}


def made(client: Client, body: dict[str, Any], **headers: str) -> dict[str, Any]:
    """A plan that is kept."""
    response = client.post("/v1/plans", json=body, headers=headers)
    assert response.status_code == 201, response.text
    plan: dict[str, Any] = response.json()
    assert response.headers["Location"] == f"/v1/plans/{plan['id']}"
    return plan


def refused(client: Client, body: dict[str, Any], problem: str) -> dict[str, Any]:
    """The problem that a plan is refused with."""
    response = client.post("/v1/plans", json=body)
    assert problem_of(response) == problem, response.text
    answer: dict[str, Any] = response.json()
    return answer


def problem_of(response: Response) -> str:
    """The name of a problem."""
    return str(response.json()["type"]).rpartition("/")[2]


def blocks(plan: dict[str, Any]) -> list[set[str]]:
    """The blocks of each stack."""
    return [{block["id"] for block in stack["blocks"]} for stack in plan["answer"]["stacks"]]


def replanned(client: Client, plan: dict[str, Any], **body: object) -> dict[str, Any]:
    """The plan after stacks were planned anew."""
    response = client.post(f"/v1/plans/{plan['id']}/replan", json=body)
    assert response.status_code == 200, response.text
    answer: dict[str, Any] = response.json()
    return answer


def fail(store: Store, name: str) -> None:
    """A block is damaged."""
    block = tables.block
    with store.writing() as connection:
        connection.execute(
            sa.update(block)
            .where(block.c.id == name)
            .values(condition="damaged", version=block.c.version + 1)
        )


def issue(store: Store, block: str, plan: str) -> None:
    """A block of a plan goes out."""
    values = {
        "site_id": SITE,
        "block_id": block,
        "plan_id": plan,
        "issued_at": START,
        "issued_by": "a test",
        "due_at": hours(8),
    }
    with store.writing() as connection:
        connection.execute(sa.insert(tables.loan), values)
