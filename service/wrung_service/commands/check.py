"""``wrung check``: a stack built by hand."""

import sys
from collections.abc import Iterable
from typing import BinaryIO

import click

import wrung
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

    The REQUEST is the body of POST /v1/stack-checks; it may be a record, to see whether it holds.
    """
    answer = ask(AnyCheckWork(wrung.solve, LIMITS, CLOCK, note_refused), request_file)
    if as_json:
        print_json(answer)
    else:
        click.echo("\n".join(_lines(answer)))
    good = answer.holds if isinstance(answer, RecordCheckAnswer) else answer.passed
    sys.exit(Status.DONE if good else Status.PARTLY)


def _lines(answer: StackCheckAnswer | RecordCheckAnswer) -> Iterable[str]:
    if isinstance(answer, StackCheckAnswer):
        return check_lines(answer)
    found = [f"{each.pointer}: {each.detail}" for each in answer.findings]
    return ["The record holds." if answer.holds else "The record does not hold.", *found]
