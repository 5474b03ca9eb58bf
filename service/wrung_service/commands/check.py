"""``wrung check``: a stack built by hand."""

import sys
from collections.abc import Iterable
from typing import BinaryIO

import click
import msgspec
from msgspec import Raw, Struct

import wrung
from wrung_service.api.decoding import BYTE_ORDER_MARK
from wrung_service.api.records.answer import RecordCheckAnswer
from wrung_service.api.stack_checks.answer import StackCheckAnswer
from wrung_service.api.stack_checks.work import AnyCheckWork
from wrung_service.commands.arguments import json_option, request_argument
from wrung_service.commands.asking import CLOCK, LIMITS, ask, note_refused, print_json
from wrung_service.commands.printed_stacks import check_lines
from wrung_service.commands.status import Status, after_help


@click.command(epilog=after_help("wrung check stack.json"))
@request_argument
@json_option
def check(request_file: BinaryIO, *, as_json: bool) -> None:
    """Check a stack built by hand, and look for a better one.

    The REQUEST is the body of POST /v1/stack-checks; it may be a record, in such a body or by
    itself, to see whether it holds.
    """
    work = AnyCheckWork(wrung.solve, LIMITS, CLOCK, note_refused)
    answer = ask(lambda body, turn: work(_as_body(body), turn), request_file.read())
    if as_json:
        print_json(answer)
    else:
        click.echo("\n".join(_lines(answer)))
    good = answer.holds if isinstance(answer, RecordCheckAnswer) else answer.passed
    sys.exit(Status.DONE if good else Status.PARTLY)


class _Alone(Struct):
    """What tells a record that was kept by itself."""

    request_sha256: Raw
    request: Raw


def _as_body(sent: bytes) -> bytes:
    """A record alone, as people keep it, in the body that takes it; all else as it is."""
    sent = sent.removeprefix(BYTE_ORDER_MARK)
    try:
        msgspec.json.decode(sent, type=_Alone)
    # Whatever is wrong with it is said by whoever reads the body.
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return sent
    return b'{"record":' + sent + b"}"


def _lines(answer: StackCheckAnswer | RecordCheckAnswer) -> Iterable[str]:
    if isinstance(answer, StackCheckAnswer):
        return check_lines(answer)
    found = [f"{each.pointer}: {each.detail}" for each in answer.findings]
    return ["The record holds." if answer.holds else "The record does not hold.", *found]
