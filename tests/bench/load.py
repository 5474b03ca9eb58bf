"""Keep-alive clients that post one request after the other, for a bounded time, to loopback."""

import asyncio
import itertools
import time
from collections.abc import Iterator, Sequence

from msgspec import Struct


class Load(Struct, frozen=True, kw_only=True):
    """What the clients got done."""

    requests: int
    refused: int
    seconds: float

    @property
    def per_second(self) -> float:
        """Good answers a second."""
        return (self.requests - self.refused) / self.seconds


def throughput(
    port: int, bodies: Sequence[bytes], *, clients: int, seconds: float, path: str = "/v1/stacks"
) -> Load:
    """Let the clients post until the time is up."""
    messages = itertools.cycle([_message(path, body) for body in bodies])
    return asyncio.run(_throughput(port, messages, clients, seconds))


async def _throughput(port: int, messages: Iterator[bytes], clients: int, seconds: float) -> Load:
    start = time.monotonic()
    work = (_client(port, messages, start + seconds) for _ in range(clients))
    done = await asyncio.gather(*work)
    return Load(
        requests=sum(requests for requests, _ in done),
        refused=sum(refused for _, refused in done),
        seconds=time.monotonic() - start,
    )


async def _client(port: int, messages: Iterator[bytes], end: float) -> tuple[int, int]:
    """Post until the end, once at least; requests made, and those that were refused."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    requests = refused = 0
    while not requests or time.monotonic() < end:
        writer.write(next(messages))
        requests += 1
        refused += await _status(reader) not in (200, 201)
    writer.close()
    await writer.wait_closed()
    return requests, refused


async def _status(reader: asyncio.StreamReader) -> int:
    """Read one response whole; its status."""
    head = (await reader.readuntil(b"\r\n\r\n")).lower()
    length = head.partition(b"content-length:")[2].partition(b"\r\n")[0]
    await reader.readexactly(int(length))
    return int(head.split(b" ", 2)[1])


def _message(path: str, body: bytes) -> bytes:
    head = (
        f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
        f"Content-Length: {len(body)}\r\n\r\n"
    )
    return head.encode() + body
