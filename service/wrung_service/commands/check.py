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
from wrung_service.commands.language import Spoken, in_language_of, language_option
from wrung_service.commands.printed_stacks import check_lines
from wrung_service.commands.status import Status, after_help


@click.command(epilog=after_help("wrung check stack.json"))
@request_argument
@json_option
@language_option
def check(request_file: BinaryIO, *, as_json: bool, language: str) -> None:
    """Check a stack built by hand, and look for a better one.

    The REQUEST is the body of POST /v1/stack-checks; it may be a record, in such a body or by
    itself, to see whether it holds. The `language` of a request goes before the option.
    """
    work = AnyCheckWork(wrung.solve, LIMITS, CLOCK, note_refused)
    body = _as_body(request_file.read())
    if not as_json:
        body, language = in_language_of(body, language)
    spoken = Spoken(language=language)
    answer = ask(lambda sent, turn: work(sent, turn, None if as_json else language), body, spoken)
    if as_json:
        print_json(answer)
    else:
        click.echo("\n".join(_lines(answer, language)))
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


def _lines(answer: StackCheckAnswer | RecordCheckAnswer, language: str) -> Iterable[str]:
    if isinstance(answer, StackCheckAnswer):
        return check_lines(answer, Spoken(language=language, unit=answer.unit))
    said = "printed.record_holds" if answer.holds else "printed.record_differs"
    found = [f"{each.pointer}: {each.detail}" for each in answer.findings]
    return [Spoken(language=language).say(said), *found]
