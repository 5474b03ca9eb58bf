"""Sends one message over HTTP: to an allowed address, in bounded time, without any redirect."""

import asyncio
import re
import socket
import ssl
from collections.abc import Iterable
from typing import Any, Final, cast

import httpcore

from wrung import __version__
from wrung_service.outgoing.addresses import AllowedAddresses
from wrung_service.usecases.webhooks.sending import Post, Reply

TIMEOUT_S: Final = 15.0
"""For all of a try: the name, the connection, and the head of the answer."""
_CONNECTIONS: Final = 32
_IDLE_S: Final = 30.0
_SECONDS: Final = re.compile(r"[0-9]{1,6}")


class RefusedAddressError(Exception):
    """The host has no address that messages may go to."""


class Sender:
    """Sends messages; one for the whole process, in one event loop."""

    def __init__(self, allowed: AllowedAddresses, *, timeout_s: float = TIMEOUT_S) -> None:
        self._timeout_s = timeout_s
        # It follows no redirects, keeps no cookies, and asks no environment for a proxy.
        self._pool = httpcore.AsyncConnectionPool(
            ssl_context=ssl.create_default_context(),
            max_connections=_CONNECTIONS,
            keepalive_expiry=_IDLE_S,
            network_backend=_Guarded(allowed),
        )

    async def send(self, post: Post) -> Reply:
        """What came of it; never an exception, but if the task is cancelled."""
        try:
            # Over everything: each read has a time limit of its own, and a receiver that sends one
            # byte now and then would never meet it.
            async with asyncio.timeout(self._timeout_s):
                return await self._reply(post)
        except TimeoutError:
            return Reply(fault="timeout")
        except RefusedAddressError:
            return Reply(fault="address_refused")
        except (httpcore.ConnectError, OSError) as error:
            return Reply(fault="tls" if _is_of_tls(error) else "no_connection")
        except (httpcore.NetworkError, httpcore.ProtocolError, httpcore.TimeoutException):
            return Reply(fault="no_answer")
        except (httpcore.UnsupportedProtocol, ValueError):
            return Reply(fault="invalid_url")

    async def close(self) -> None:
        """Close the connections."""
        await self._pool.aclose()

    async def _reply(self, post: Post) -> Reply:
        request = self._pool.stream(
            "POST",
            post.url,
            headers=_headers(post),
            content=post.delivery.body.encode(),
        )
        # The body of the answer is never read: it says nothing, and may never end.
        async with request as response:
            return Reply(status=response.status, retry_after=_retry_after(response.headers))


class _Guarded(httpcore.AsyncNetworkBackend):
    """Connects to addresses that were looked up and judged here, so that none can slip in later."""

    def __init__(self, allowed: AllowedAddresses) -> None:
        self._allowed = allowed
        # It is another class, and no backend, where anyio is missing, which the framework brings.
        self._inner = cast("httpcore.AsyncNetworkBackend", httpcore.AnyIOBackend())

    async def connect_tcp(
        self,
        host: str,
        port: int,
        timeout: float | None = None,  # noqa: ASYNC109 - as the base
        local_address: str | None = None,
        socket_options: Iterable[Any] | None = None,
    ) -> httpcore.AsyncNetworkStream:
        """Connect to the first address of the host that answers.

        Raises:
            RefusedAddressError: messages may go to none of its addresses.
        """
        last: Exception = RefusedAddressError(host)
        for address in await _addresses_of(host, port):
            if not self._allowed.allow(address):
                continue
            try:
                return await self._inner.connect_tcp(
                    address, port, timeout, local_address, socket_options
                )
            except httpcore.ConnectError as error:
                last = error
        raise last

    async def sleep(self, seconds: float) -> None:
        """Wait."""
        await self._inner.sleep(seconds)


async def _addresses_of(host: str, port: int) -> tuple[str, ...]:
    loop = asyncio.get_running_loop()
    found = await loop.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    # In the order of the resolver, each once.
    return tuple(dict.fromkeys(str(each[4][0]) for each in found))


def _is_of_tls(error: BaseException | None) -> bool:
    """Whether it was not the connection that failed, but what makes it safe."""
    while error is not None and not isinstance(error, ssl.SSLError):
        error = error.__cause__ or error.__context__
    return error is not None


def _headers(post: Post) -> list[tuple[str, str]]:
    own = {"content-type": "application/json", "user-agent": f"wrung/{__version__}"}
    return [*own.items(), *post.headers.items()]


def _retry_after(headers: Iterable[tuple[bytes, bytes]]) -> int | None:
    """The seconds that the receiver asks for; None if it names none, or a date."""
    for name, value in headers:
        if name.lower() == b"retry-after" and _SECONDS.fullmatch(value.decode("latin-1")):
            return int(value)
    return None
