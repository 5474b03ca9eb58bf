"""``wrung coverage``: which lengths an inventory builds."""

import sys
from typing import BinaryIO, Final

import click

from wrung.coverage.answer import Surveyed
from wrung_service.api.coverage.work import CoverageWork
from wrung_service.commands.arguments import json_option, request_argument
from wrung_service.commands.asking import CLOCK, LIMITS, ask, print_json
from wrung_service.commands.language import Spoken, in_language_of, language_option
from wrung_service.commands.printed_coverage import coverage_lines
from wrung_service.commands.status import Status, after_help

_BY_OUTCOME: Final[dict[Surveyed, Status]] = {
    "complete": Status.DONE,
    "partial": Status.PARTLY,
    "unknown": Status.OUT_OF_TIME,
}


@click.command(epilog=after_help("wrung coverage inventory.json"))
@request_argument
@json_option
@language_option
def coverage(request_file: BinaryIO, *, as_json: bool, language: str) -> None:
    """Tell which lengths the inventory of a REQUEST builds, and which blocks would help.

    The request is the body of POST /v1/coverage, and its `language` goes before the option.
    """
    body = request_file.read()
    if not as_json:
        body, language = in_language_of(body, language)
    answer = ask(CoverageWork(LIMITS, CLOCK), body, Spoken(language=language))
    if as_json:
        print_json(answer)
    else:
        click.echo("\n".join(coverage_lines(answer, Spoken(language=language, unit=answer.unit))))
    sys.exit(_BY_OUTCOME[answer.outcome])
