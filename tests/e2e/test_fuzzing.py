"""Requests made up from the document, good and bad, against the running server."""

import time
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from schemathesis import Case

from contract.accepted import with_numbers
from contract.fuzzing import SETTINGS, fuzzing_config
from e2e.processes import Server, running
from patience import PATIENCE_S
from service.bodies import request
from wrung_service.app import create_app


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    """One server for all of them."""
    flags = (
        "--default-time-limit-ms",
        str(SETTINGS.default_time_limit_ms),
        "--max-time-limit-ms",
        str(SETTINGS.max_time_limit_ms),
    )
    with running(*flags) as server:
        yield server


schema = schemathesis.openapi.from_dict(
    with_numbers(create_app(SETTINGS).document), config=fuzzing_config(again=True)
)


@schema.parametrize()
def test_the_server_keeps_to_its_document(case: Case[Any], server: Server) -> None:
    """Statuses, bodies, headers; what is valid is accepted, what is not is refused."""
    case.call_and_validate(base_url=server.address, timeout=PATIENCE_S)


def test_the_server_has_come_to_no_harm(server: Server) -> None:
    """After all of them it solves as before, as soon as no search of theirs is left."""
    outcomes, end = list[str](), time.monotonic() + PATIENCE_S
    body = request(time_limit_ms=SETTINGS.max_time_limit_ms)
    with server.client() as client:
        while time.monotonic() < end:
            answer = client.post("/v1/stacks", json=body)
            outcomes.append(answer.json().get("outcome", answer.text))
            if outcomes[-1] == "optimal":
                return
            time.sleep(0.5)
    pytest.fail(f"no answer was optimal: {outcomes}")
