"""Sending for real, to a receiver on loopback: what arrives, and where nothing goes."""

import asyncio
import socket
import time
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler

import pytest

from receiver import Receiver, receiving
from store.rows import SITE, START
from wrung_service.outgoing.addresses import AllowedAddresses
from wrung_service.outgoing.sender import Sender
from wrung_service.store.webhooks.deliveries import Delivery
from wrung_service.usecases.webhooks.sending import Post, Reply

LOOPBACK = AllowedAddresses(["127.0.0.0/8"])


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with receiving() as made:
        yield made


def post(url: str) -> Post:
    delivery = Delivery(
        n=1,
        site_id=SITE,
        endpoint_id="erp",
        message_id="msg_1",
        event="webhook.test",
        body='{"type":"webhook.test"}',
        made_at=START,
        next_try_at=START,
        give_up_at=None,
        tries=1,
        tried_at=START,
        delivered_at=None,
        status=None,
        fault=None,
    )
    return Post(delivery=delivery, url=url, headers={"webhook-id": "msg_1"})


def sent(url: str, allowed: AllowedAddresses = LOOPBACK, timeout_s: float = 120) -> Reply:
    async def send() -> Reply:
        sender = Sender(allowed, timeout_s=timeout_s)
        try:
            return await sender.send(post(url))
        finally:
            await sender.close()

    return asyncio.run(send())


def test_a_message_arrives_as_it_is(receiver: Receiver) -> None:
    reply = sent(f"{receiver.url}/a?b=c")

    (one,) = receiver.received
    assert reply == Reply(status=204)
    assert (one.path, one.body) == ("/hooks/a?b=c", '{"type":"webhook.test"}')
    assert one.headers["webhook-id"] == "msg_1"
    assert one.headers["content-type"] == "application/json"
    assert one.headers["user-agent"].startswith("wrung/")


def test_no_redirect_is_followed(receiver: Receiver) -> None:
    def elsewhere(handler: BaseHTTPRequestHandler) -> None:
        handler.send_response(307)
        handler.send_header("location", receiver.url)
        handler.send_header("content-length", "0")
        handler.end_headers()

    receiver.answers.append(elsewhere)

    assert sent(receiver.url).status == 307
    assert len(receiver.received) == 1


def test_no_proxy_of_the_environment_is_asked(
    receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It would connect to addresses that nobody judged."""
    for name in ("HTTP_PROXY", "http_proxy", "ALL_PROXY", "all_proxy"):
        monkeypatch.setenv(name, "http://127.0.0.1:9")

    assert sent(receiver.url).status == 204


def test_the_receiver_may_ask_for_a_pause(receiver: Receiver) -> None:
    def later(handler: BaseHTTPRequestHandler) -> None:
        handler.send_response(429)
        handler.send_header("Retry-After", "120")
        handler.send_header("content-length", "0")
        handler.end_headers()

    receiver.answers.append(later)

    assert sent(receiver.url) == Reply(status=429, retry_after=120)


def _trickle(handler: BaseHTTPRequestHandler) -> None:
    handler.wfile.write(b"HTTP/1.1 200 OK\r\n")
    for number in range(200):
        try:
            handler.wfile.write(f"x-{number}: y\r\n".encode())
            handler.wfile.flush()
        except OSError:
            return
        time.sleep(0.05)


def _endless(handler: BaseHTTPRequestHandler) -> None:
    handler.wfile.write(b"HTTP/1.1 200 OK\r\ncontent-length: 1000000000\r\n\r\n" + b"x" * 1000)
    handler.wfile.flush()


def _nonsense(handler: BaseHTTPRequestHandler) -> None:
    handler.wfile.write(b"220 mail.example ESMTP\r\n")


def _long_head(handler: BaseHTTPRequestHandler) -> None:
    handler.wfile.write(b"HTTP/1.1 200 OK\r\nx: " + b"y" * 500_000 + b"\r\n\r\n")


@pytest.mark.parametrize(
    ("answer", "timeout_s", "reply"),
    [
        (_trickle, 1, Reply(fault="timeout")),
        # Its head is enough, and nobody waits for the rest.
        (_endless, 120, Reply(status=200)),
        (_nonsense, 120, Reply(fault="no_answer")),
        (_long_head, 120, Reply(fault="no_answer")),
    ],
)
def test_no_receiver_holds_the_sender_up(
    receiver: Receiver,
    answer: Callable[[BaseHTTPRequestHandler], None],
    timeout_s: float,
    reply: Reply,
) -> None:
    receiver.answers.append(answer)

    assert sent(receiver.url, timeout_s=timeout_s) == reply


def test_a_port_where_nobody_listens() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        assert sent(f"http://127.0.0.1:{taken.getsockname()[1]}") == Reply(fault="no_connection")


def test_a_host_that_nobody_knows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever looks names up may take long to say so, or be out of reach."""

    async def unknown(*_: object, **__: object) -> list[object]:
        raise socket.gaierror(socket.EAI_NONAME, "Name or service not known")

    monkeypatch.setattr(asyncio.BaseEventLoop, "getaddrinfo", unknown)

    assert sent("http://nobody.invalid/") == Reply(fault="no_connection")


def test_tls_that_nobody_speaks(receiver: Receiver) -> None:
    assert sent(receiver.url.replace("http:", "https:")).fault == "tls"


@pytest.mark.parametrize(
    "host", ["127.0.0.1", "localhost", "127.1", "2130706433", "[::ffff:127.0.0.1]"]
)
def test_loopback_is_refused_however_it_is_written(receiver: Receiver, host: str) -> None:
    """The address that is connected to is judged, not the text that leads to it."""
    url = receiver.url.replace("127.0.0.1", host)

    assert sent(url, AllowedAddresses()) == Reply(fault="address_refused")
    assert receiver.received == []


def test_a_name_is_judged_by_each_of_its_addresses(
    receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a name has a public address and one inside, only the public one is tried."""
    port = int(receiver.url.rsplit(":", 1)[1].partition("/")[0])
    inside = (socket.AF_INET, socket.SOCK_STREAM, 6, "", ("127.0.0.1", port))
    asked = list[str]()

    async def resolved(_: object, host: str, *__: object, **___: object) -> list[object]:
        asked.append(host)
        return [inside]

    monkeypatch.setattr(asyncio.BaseEventLoop, "getaddrinfo", resolved)

    assert sent(f"http://rebound.example:{port}/", AllowedAddresses()).fault == "address_refused"
    assert sent(f"http://rebound.example:{port}/").status == 204
    # Once each: a second look-up could give another answer than the one that was judged.
    assert asked == ["rebound.example"] * 2


# Special-purpose addresses: IANA's registries (RFC 6890), NAT64 (RFC 6052), 6to4 (RFC 3056),
# Teredo (RFC 4380).
INSIDE = [
    *("0.0.0.0", "10.1.2.3", "100.64.0.1", "127.0.0.1", "169.254.169.254", "172.16.0.1"),  # noqa: S104
    *("192.168.1.1", "192.0.2.1", "198.18.0.1", "224.0.0.1", "240.0.0.1", "255.255.255.255"),
    *("::", "::1", "fe80::1", "fe80::1%eth0", "fc00::1", "ff02::1", "2001:db8::1"),
    *("::ffff:10.0.0.1", "64:ff9b::7f00:1", "2002:7f00:1::1", "2001:0:7f00:1::"),
    "no address",
]


@pytest.mark.parametrize("address", INSIDE)
def test_addresses_inside_are_refused(address: str) -> None:
    assert not AllowedAddresses().allow(address)


@pytest.mark.parametrize(
    "address", ["8.8.8.8", "2606:4700:4700::1111", "::ffff:8.8.8.8", "64:ff9b::808:808"]
)
def test_public_addresses_are_allowed(address: str) -> None:
    assert AllowedAddresses().allow(address)


def test_the_operator_allows_networks() -> None:
    allowed = AllowedAddresses(["10.1.0.0/16", "fd00::/8", "127.0.0.1"])

    given = ("10.1.2.3", "fd00::5", "127.0.0.1", "::ffff:10.1.0.9", "10.2.0.1", "127.0.0.2")
    assert [allowed.allow(each) for each in given] == [True, True, True, True, False, False]
