"""``wrung check``: a stack built by hand."""

import sys
from typing import BinaryIO

import click

import wrung
from wrung_service.api.stack_checks.work import StackCheckWork
from wrung_service.commands.arguments import json_option, request_argument
from wrung_service.commands.asking import CLOCK, LIMITS, ask, note_refused, print_json
from wrung_service.commands.printed_stacks import check_lines
from wrung_service.commands.status import Status, after_help


@click.command(epilog=after_help("wrung check stack.json"))
@request_argument
@json_option
def check(request_file: BinaryIO, *, as_json: bool) -> None:
    """Check a stack built by hand, and look for a better one.

    The REQUEST is the body of POST /v1/stack-checks.
    """
    answer = ask(StackCheckWork(wrung.solve, LIMITS, CLOCK, note_refused), request_file)
    if as_json:
        print_json(answer)
    else:
        click.echo("\n".join(check_lines(answer)))
    sys.exit(Status.DONE if answer.passed else Status.PARTLY)
