"""``wrung solve``: stacks for the targets of a request."""

import sys
from typing import BinaryIO

import click

import wrung
from wrung_service.api.stacks.work import StackWork
from wrung_service.commands.arguments import json_option, request_argument
from wrung_service.commands.asking import CLOCK, LIMITS, ask, note_refused, print_json
from wrung_service.commands.language import Spoken, in_language_of, language_option
from wrung_service.commands.printed_stacks import plan_lines
from wrung_service.commands.status import BY_OUTCOME, after_help


@click.command(
    epilog=after_help(
        "wrung solve examples/requests/traveller.json",
        "wrung solve --json request.json > answer.json",
        "wrung solve < request.json",
    )
)
@request_argument
@json_option
@language_option
def solve(request_file: BinaryIO, *, as_json: bool, language: str) -> None:
    """Plan stacks for the targets of a REQUEST, a JSON file or standard input.

    The request is the body of POST /v1/stacks, and its `language` goes before the option. Ctrl-C
    prints the best plan found so far.
    """
    body = request_file.read()
    # What a program reads is the same on every machine.
    if not as_json:
        body, language = in_language_of(body, language)
    work = StackWork(wrung.solve, LIMITS, CLOCK, note_refused)
    answer = ask(work, body, Spoken(language=language))
    if as_json:
        print_json(answer)
    else:
        click.echo("\n".join(plan_lines(answer, Spoken(language=language, unit=answer.unit))))
    sys.exit(BY_OUTCOME[answer.outcome])
