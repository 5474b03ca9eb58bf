"""What no client library would send: the answer, and whether the service goes on as before."""

import json
import socket
import time
from collections.abc import Iterator
from contextlib import ExitStack, suppress

import pytest

from e2e.processes import Server, running
from patience import PATIENCE_S
from service.bodies import request

GOOD = json.dumps(request()).encode()
NARROW = ("--max-header-bytes", "4096", "--max-header-count", "20", "--max-connections", "20")


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    """One that takes little, and waits for it as long as it takes."""
    with running(*NARROW) as server:
        yield server


@pytest.fixture(scope="module")
def impatient() -> Iterator[Server]:
    """One that waits only for the head of a request."""
    with running("--body-seconds", "1", "--idle-seconds", "1") as server:
        yield server


@pytest.fixture(scope="module")
def hasty() -> Iterator[Server]:
    """One that waits for nothing."""
    with running("--body-seconds", "1", "--header-seconds", "1") as server:
        yield server


def head(*fields: str, line: str = "POST /v1/stacks HTTP/1.1") -> bytes:
    """The head of a request."""
    return "\r\n".join(
        [line, "Host: x", "Content-Type: application/json", *fields, "", ""]
    ).encode()


def exchange(server: Server, *parts: bytes) -> bytes:
    """All that comes back until the server closes; a client that is still sending may be cut."""
    with server.connect() as connection:
        try:
            for part in parts:
                connection.sendall(part)
        except OSError:
            pass
        return received(connection)


def received(connection: socket.socket) -> bytes:
    """What comes until the end."""
    connection.settimeout(PATIENCE_S)
    data = b""
    try:
        while piece := connection.recv(65_536):
            data += piece
    except ConnectionError:
        pass
    return data


def served(server: Server) -> socket.socket | None:
    """A connection that stays open after an answer; None if there is no room for it."""
    connection = server.connect()
    connection.settimeout(PATIENCE_S)
    with suppress(ConnectionError):
        connection.sendall(b"GET /livez HTTP/1.1\r\nHost: x\r\n\r\n")
        if status(connection.recv(1000)) == 200:
            return connection
    connection.close()
    return None


def status(answer: bytes) -> int:
    """The status of the first response; 0 if there is none."""
    return int(answer[9:12]) if answer.startswith(b"HTTP/1.1 ") else 0


CHUNKED = "Transfer-Encoding: chunked"
REFUSED = {
    "no HTTP": (b"hello\r\n\r\n", 400),
    "NUL in the path": (b"GET /\x00 HTTP/1.1\r\nHost: x\r\n\r\n", 400),
    "another version": (b"GET / HTTP/9.9\r\n\r\n", 400),
    "two lengths": (head("Content-Length: 3", "Content-Length: 4") + b"{}{}", 400),
    "length and chunks": (head("Content-Length: 3", CHUNKED) + b"0\r\n\r\n", 400),
    "negative length": (head("Content-Length: -1"), 400),
    "no chunk size": (head(CHUNKED) + b"zz\r\n", 400),
    "gzip": (head("Transfer-Encoding: gzip") + b"0\r\n\r\n", 501),
    "gzip, chunked": (head("Transfer-Encoding: gzip, chunked") + b"0\r\n\r\n", 501),
    "identity": (head("Transfer-Encoding: identity", "Content-Length: 2") + b"{}", 501),
    "a trailer": (head(CHUNKED) + b"2\r\n{}\r\n0\r\nX-Client: me\r\n\r\n", 400),
    "many fields": (head(*(f"X-{n}: 1" for n in range(30))), 431),
    "a long field": (head(f"X: {'x' * 5000}"), 431),
    "a long path": (head(line=f"GET /{'x' * 5000} HTTP/1.1"), 431),
    "a field without end": (head()[:-2] + b"X: " + b"x" * 100_000, 431),
    "a name without end": (head()[:-2] + b"x" * 100_000, 431),
    "a path without end": (b"GET /" + b"x" * 100_000, 431),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_is_refused_below_the_application(server: Server, case: str) -> None:
    """One problem document, and the connection is closed."""
    sent, wanted = REFUSED[case]
    answer = exchange(server, sent)

    assert status(answer) == wanted, answer
    assert json.loads(answer.partition(b"\r\n\r\n")[2])["status"] == wanted
    assert b"connection: close" in answer
    with server.client() as client:
        assert client.get("/livez").status_code == 200


def test_a_slow_head_is_not_waited_for(hasty: Server) -> None:
    """However regularly another byte of it comes."""
    with hasty.connect() as connection:
        try:
            for byte in head()[:40]:
                connection.sendall(bytes([byte]))
                time.sleep(0.1)
        except OSError:
            pass
        assert status(received(connection)) in (408, 0)


@pytest.mark.parametrize("sent", [b"", b"G", head("Content-Length: 10") + b"{"])
def test_whoever_says_no_more_is_not_waited_for(hasty: Server, sent: bytes) -> None:
    """Before the head, in it, and in the body: 408, and the connection is closed."""
    assert status(exchange(hasty, sent)) == 408


def test_an_idle_connection_is_closed(impatient: Server) -> None:
    """After its answer, without another word."""
    answer = exchange(impatient, b"GET /livez HTTP/1.1\r\nHost: x\r\n\r\n")

    assert status(answer) == 200
    assert answer.count(b"HTTP/1.1") == 1


def test_a_body_that_never_ends_after_its_refusal_is_cut(impatient: Server) -> None:
    """The refusal is the one answer."""
    fields = ("Content-Length: 100000",)
    wrong = head(*fields).replace(b"application/json", b"text/plain")

    answer = exchange(impatient, wrong + b"x")

    assert status(answer) == 415
    assert answer.count(b"HTTP/1.1") == 1


def test_pipelined_requests_are_answered_in_turn(server: Server) -> None:
    """The second waits for the first and is not taken for a slow one."""
    one, last = (
        head(*fields, f"Content-Length: {len(GOOD)}") + GOOD
        for fields in ((), ("Connection: close",))
    )

    answer = exchange(server, one + last)

    assert answer.count(b"HTTP/1.1 200") == 2


@pytest.mark.parametrize("field", ["Upgrade: h2c", "UPGRADE: TLS/1.2"])
def test_a_body_after_an_offer_of_another_protocol_is_read(server: Server, field: str) -> None:
    """Java's client offers HTTP/2 so; the body was once taken to be in the other protocol."""
    offer = head(
        "Connection: Upgrade, HTTP2-Settings", field, "HTTP2-Settings: AAE",
        f"Content-Length: {len(GOOD)}",
    )  # fmt: skip
    last = head("Connection: close", f"Content-Length: {len(GOOD)}")
    answer = exchange(server, offer + GOOD, last + GOOD)

    assert status(answer) == 200
    assert answer.count(b'"outcome":') == 2


def test_connections_beyond_the_limit_are_told_so(server: Server) -> None:
    """503 with Retry-After; those that are there are served."""
    with ExitStack() as there:
        count = 0
        while count < 20:
            # The last one of another test may not have gone yet.
            if (connection := served(server)) is not None:
                there.enter_context(connection)
                count += 1
        answer = exchange(server)
        assert status(answer) == 503
        assert b"retry-after" in answer


def test_half_closed_clients_leave_nothing_in_the_log(server: Server) -> None:
    """Whether the body is good or bad, whole or cut, or goes on after the half-close."""
    quoted = "op20-of-a-client"
    bodies = [
        json.dumps(request(targets=[{"ref": quoted, "kind": "length", "length": "0.3506"}])),
        json.dumps(request(only=[quoted])),
        json.dumps(request(**{quoted: quoted})),
        f'{{"{quoted}',
    ]
    for text in bodies:
        body = text.encode()
        for cut in (len(body), len(body) // 2):
            with server.connect() as connection:
                connection.sendall(head(f"Content-Length: {len(body)}") + body[:cut])
                connection.shutdown(socket.SHUT_WR)
                received(connection)
            with server.connect() as connection:
                connection.sendall(head(CHUNKED) + b"5\r\n" + quoted.encode())
                connection.close()
    with server.client() as client:
        client.post("/v1/stacks", json=request(), headers={"X-Request-ID": "the-last"})
    server.logged("request", request_id="the-last")

    assert quoted not in server.log_text()


@pytest.mark.parametrize("protocol", ["h2c", "websocket"])
@pytest.mark.parametrize("split", [0, 40, 150, -60])
def test_an_offer_of_another_protocol_is_passed_over(
    server: Server, protocol: str, split: int
) -> None:
    """RFC 9110, 7.8. Java's client offers HTTP/2 with each request, and so does `curl --http2`."""
    offer = ("Connection: Upgrade, HTTP2-Settings", f"Upgrade: {protocol}", "HTTP2-Settings: AAEA")
    sent = head(*offer, f"Content-Length: {len(GOOD)}") + GOOD
    behind = head("Connection: close", f"Content-Length: {len(GOOD)}") + GOOD

    answers = exchange(server, sent[:split], sent[split:], behind)

    assert status(answers) == 200
    assert answers.count(b"HTTP/1.1 200") == 2
    assert answers.count(b'"outcome":"optimal"') == 2


def test_an_offer_does_not_widen_the_bounds(server: Server, impatient: Server) -> None:
    offer = ("Connection: Upgrade", "Upgrade: h2c")

    assert status(exchange(impatient, head(*offer, "Content-Length: 5"), b"{")) == 408
    assert status(exchange(server, head(*offer, *["X: y"] * 20))) == 431
