"""From a request in a file to an answer, by the very code that the service answers with."""

import signal
import sys
import time
from collections.abc import Callable, Generator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from importlib import import_module
from types import FrameType
from typing import Final, NoReturn, TypeVar

import click
import msgspec
from msgspec import Struct

from wrung_service.api.decoding import time_limit_of
from wrung_service.api.problems import Refusal
from wrung_service.commands.language import ENGLISH, Spoken
from wrung_service.commands.status import Status
from wrung_service.observe.lines import CanonicalLine, begin_line
from wrung_service.pool import BusyError, Turn
from wrung_service.settings import Limits

Answer = TypeVar("Answer", bound=Struct)

LIMITS: Final = Limits(solve_workers=1)
CLOCK: Final = partial(datetime.now, UTC)


def ask(work: Callable[[bytes, Turn], Answer], body: bytes, spoken: Spoken = ENGLISH) -> Answer:
    """The answer to a request; ends the command with its reasons if it is refused.

    Ctrl-C ends the search, and the best plan found so far is the answer.
    """
    # First, as the time limit is for the search and not for loading the solver.
    import_module("wrung.planning.solve")
    turn = Turn("command line", time_limit_of(body, LIMITS), time.monotonic())
    turn.begin(waited=False, retry_after=1)
    try:
        return _run(work, body, turn)
    except Refusal as refusal:
        refuse(
            [f"{e.pointer or 'the request'}: {spoken.refusal(e.detail)}" for e in refusal.errors]
            or [spoken.refusal(refusal.detail)]
        )
    except BusyError:
        sys.exit(Status.OUT_OF_TIME)


def refuse(reasons: list[str]) -> NoReturn:
    """End the command with the reasons on standard error."""
    for reason in reasons:
        click.echo(f"wrung: {reason}", err=True)
    sys.exit(Status.REFUSED)


def note_refused(rules: Sequence[str]) -> None:
    """Tell that the answer goes without claims that its check did not confirm: a fault of ours."""
    click.echo(f"wrung: left out what did not pass its check: {', '.join(rules)}", err=True)


def print_json(answer: Struct) -> None:
    """Print an answer as the service sends it, indented."""
    # Bytes: JSON is UTF-8, whatever the terminal's encoding.
    text = msgspec.json.format(msgspec.json.encode(answer), indent=2)
    sys.stdout.buffer.write(text + b"\n")


def _run(work: Callable[[bytes, Turn], Answer], body: bytes, turn: Turn) -> Answer:
    def in_thread() -> Answer:
        # Where the service notes what a request cost; a command has no log.
        begin_line(CanonicalLine(request_id="", method=""))
        return work(body, turn)

    # In a thread of its own, since no signal is handled while the solver runs.
    with ThreadPoolExecutor(1) as threads, _cancelling(turn):
        return threads.submit(in_thread).result()


@contextmanager
def _cancelling(turn: Turn) -> Generator[None, None, None]:
    def cancel(_: int, __: FrameType | None) -> None:
        turn.cancel.cancel()

    before = signal.signal(signal.SIGINT, cancel)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
