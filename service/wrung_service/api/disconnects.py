"""Stops working for a client that is gone."""

import asyncio
from collections.abc import Coroutine
from typing import Any, TypeVar

from litestar.types import Receive

T = TypeVar("T")


class ClientGoneError(Exception):
    """The client closed the connection before its answer was ready."""


async def unless_gone(receive: Receive, work: Coroutine[Any, Any, T]) -> T:
    """Do ``work``, and cancel it if the client closes the connection first.

    The body must have been read: what is received after it can only be the disconnect.

    Raises:
        ClientGoneError: the client is gone; nobody waits for an answer.
    """
    # The framework lets a handler run on when its client has left (Litestar's issue 2490).
    working = asyncio.ensure_future(work)
    leaving = asyncio.ensure_future(_gone(receive))
    try:
        await asyncio.wait({working, leaving}, return_when=asyncio.FIRST_COMPLETED)
        if working.done():
            return await working
        raise ClientGoneError
    finally:
        # Nobody waits for its outcome now: asyncio would log it, with words of the body.
        working.add_done_callback(_forget)
        working.cancel()
        leaving.cancel()


def _forget(task: asyncio.Future[Any]) -> None:
    """Look at the outcome, so that asyncio does not warn that nobody did."""
    if not task.cancelled():
        task.exception()


async def _gone(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass
