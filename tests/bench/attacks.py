"""The cases: each sends what it has for a while and tells which answers came."""

import itertools
import os
import signal
import socket
import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from http.client import HTTPConnection, HTTPException
from typing import TypeAlias

from . import payloads
from .server import Server

SECONDS = 4.0
"""For each case; the loops are bounded by it."""
_PATIENCE_S = 60
_CUT = "cut"

Answers: TypeAlias = Counter[str]
Case: TypeAlias = Callable[[Server], Answers]
Posted: TypeAlias = tuple[str, str, bytes]
"""Path, media type, body."""

_JSON = "application/json"


def idle(_: Server) -> Answers:
    """Nobody but the probe."""
    time.sleep(SECONDS)
    return Counter()


def malformed(server: Server) -> Answers:
    """HTTP that is none, too large, or with trailers."""
    return _in_threads(4, lambda: _sent_raw(server.port, payloads.MALFORMED))


def half_closed(server: Server) -> Answers:
    """Clients that close their side after half the body, or after all of it."""
    head = b"POST /v1/stacks HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
    whole = head + b"Content-Length: %d\r\n\r\n" % len(payloads.HARD) + payloads.HARD
    return _in_threads(4, lambda: _sent_raw(server.port, (whole, whole[:-500]), half_close=True))


def hostile_json(server: Server) -> Answers:
    """Deep, long, wide and huge."""
    return _posting(server, [(path, _JSON, body) for path, body in payloads.JSON], clients=4)


def hostile_xml(server: Server) -> Answers:
    """Long namespaces and names, many elements and rows, entities."""
    return _posting(server, _certificates("application/xml", payloads.XML), clients=4)


def hostile_csv(server: Server) -> Answers:
    """Many columns, many rows, quotes without end."""
    return _posting(server, _certificates("text/csv", payloads.CSV), clients=4)


def overload(server: Server) -> Answers:
    """64 clients with searches of up to two seconds."""
    return _posting(server, [("/v1/stacks", _JSON, payloads.HARD)], clients=64)


def overload_small(server: Server) -> Answers:
    """64 clients with searches of milliseconds."""
    return _posting(server, [("/v1/stacks", _JSON, payloads.SMALL)], clients=64)


def ended(server: Server) -> Answers:
    """SIGTERM with 16 clients' searches in flight; the port stays open for two seconds."""
    with ThreadPoolExecutor(16) as clients:
        sent = [clients.submit(_post, server.port, _hard()) for _ in range(16)]
        time.sleep(1)
        os.kill(server.pid, signal.SIGTERM)
        time.sleep(1.5)
        return Counter(each.result(_PATIENCE_S) for each in sent)


def _hard() -> Posted:
    return ("/v1/stacks", _JSON, payloads.HARD.replace(b"2000", b"60000"))


def _certificates(media_type: str, bodies: Sequence[bytes]) -> list[Posted]:
    return [("/v1/certificate-imports", media_type, body) for body in bodies]


def _posting(server: Server, posted: Sequence[Posted], *, clients: int) -> Answers:
    turns = itertools.cycle(posted)

    def send() -> Answers:
        answers: Answers = Counter()
        end = time.monotonic() + SECONDS
        while time.monotonic() < end:
            answers[_post(server.port, next(turns))] += 1
        return answers

    return _in_threads(clients, send)


def _in_threads(clients: int, send: Callable[[], Answers]) -> Answers:
    with ThreadPoolExecutor(clients) as threads:
        sent = [threads.submit(send) for _ in range(clients)]
        return sum((each.result() for each in sent), Counter())


def _post(port: int, posted: Posted) -> str:
    path, media_type, body = posted
    connection = HTTPConnection("127.0.0.1", port, timeout=_PATIENCE_S)
    try:
        connection.request("POST", path, body, {"Content-Type": media_type})
        response = connection.getresponse()
        response.read()
    except (OSError, HTTPException):
        return _CUT
    else:
        return str(response.status)
    finally:
        connection.close()


def _sent_raw(port: int, all_data: Iterable[bytes], *, half_close: bool = False) -> Answers:
    answers: Answers = Counter()
    end = time.monotonic() + SECONDS
    for data in itertools.cycle(all_data):
        if time.monotonic() >= end:
            return answers
        answers[_raw(port, data, half_close=half_close)] += 1
    return answers


def _raw(port: int, data: bytes, *, half_close: bool) -> str:
    try:
        with socket.create_connection(("127.0.0.1", port), _PATIENCE_S) as connection:
            connection.sendall(data)
            if half_close:
                connection.shutdown(socket.SHUT_WR)
            return connection.recv(12)[9:].decode() or _CUT
    except OSError:
        return _CUT


CASES: tuple[tuple[str, Case], ...] = (
    ("idle", idle),
    ("malformed HTTP", malformed),
    ("half-closed clients", half_closed),
    ("hostile JSON", hostile_json),
    ("hostile XML", hostile_xml),
    ("hostile CSV", hostile_csv),
    ("64 clients, short searches", overload_small),
    ("64 clients, long searches", overload),
    ("SIGTERM, 16 in flight", ended),
)
