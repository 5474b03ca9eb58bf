"""The receiver among the examples takes what the service sends, once, and nothing else."""

import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
import sqlalchemy as sa
import webhook_receiver
from litestar.testing import TestClient

from patience import PATIENCE_S
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store
from wrung_service.store.migrating import migrate
from wrung_service.store.tables import webhook_endpoint
from wrung_service.usecases.webhooks.keep_endpoint import new_secret
from wrung_service.usecases.webhooks.sending import signed_headers

SECRET = new_secret()
BODY = '{"type":"plan.expired","timestamp":"2027-03-01T08:00:00Z","data":{"plan":"p1"}}'


@pytest.fixture
def inbox() -> webhook_receiver.Inbox:
    return webhook_receiver.Inbox(SECRET)


@pytest.fixture
def address(inbox: webhook_receiver.Inbox) -> Iterator[str]:
    server = webhook_receiver.server(inbox, 0)
    thread = threading.Thread(target=server.serve_forever, args=(0.05,))
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    thread.join()
    server.server_close()


def posted(address: str, **sent: Any) -> int:  # noqa: ANN401 - as httpx takes them
    """The status of the answer."""
    return httpx.post(address, timeout=PATIENCE_S, **sent).status_code


def headers(at: datetime | None = None, secret: str = SECRET) -> dict[str, str]:
    return signed_headers("msg_1", BODY, [secret], at or datetime.now(UTC))


def test_a_message_is_taken_once(inbox: webhook_receiver.Inbox, address: str) -> None:
    assert [posted(address, content=BODY, headers=headers()) for _ in "12"] == [204, 204]

    assert inbox.messages.qsize() == 1
    assert webhook_receiver.told(inbox.messages.get()) == "2027-03-01T08:00:00Z plan.expired: p1"


def test_what_is_not_signed_or_old_or_long_is_refused(
    inbox: webhook_receiver.Inbox, address: str
) -> None:
    old = headers(datetime.now(UTC) - timedelta(minutes=6))
    sent: list[dict[str, Any]] = [
        {"content": BODY},
        {"content": BODY, "headers": headers(secret=new_secret())},
        {"content": BODY.replace("p1", "p2"), "headers": headers()},
        {"content": BODY, "headers": old},
        {"content": BODY, "headers": {**headers(), "webhook-signature": "v1,?"}},
        {"content": b"\xff", "headers": headers()},
    ]

    assert {posted(address, **each) for each in sent} == {401}
    assert posted(address, content="x" * 30_000, headers=headers()) == 413
    assert inbox.messages.empty()


def test_it_takes_what_the_service_sends(
    inbox: webhook_receiver.Inbox, address: str, tmp_path: Path
) -> None:
    """From the database on, signed with the secret that it keeps."""
    url = f"sqlite:///{tmp_path / 'crib.db'}"
    migrate(url)
    store = Store(url)
    settings = Settings(solve_workers=1, webhook_networks="127.0.0.1")
    hook = "/v1/sites/north-hall/webhooks/erp"
    with TestClient(create_app(settings, store=store)) as client:
        site = {"name": "North hall", "time_zone": "Europe/Berlin"}
        client.put("/v1/sites/north-hall", json=site)
        client.put(hook, json={"url": address, "events": ["plan.expired"]})
        with store.writing() as connection:
            connection.execute(sa.update(webhook_endpoint).values(secret=SECRET))
        client.post(f"{hook}/test")
        message = inbox.messages.get(timeout=PATIENCE_S)

    assert message["type"] == "webhook.test"
