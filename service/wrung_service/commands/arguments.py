"""Arguments that several commands have."""

from collections.abc import Callable
from typing import Any, Final, TypeAlias

import click

Decorator: TypeAlias = Callable[[Callable[..., Any]], Callable[..., Any]]

request_argument: Final[Decorator] = click.argument(
    "request_file", metavar="[REQUEST]", type=click.File("rb"), default="-"
)
"""A file, or standard input if it is left out or ``-``."""

json_option: Final[Decorator] = click.option(
    "--json", "as_json", is_flag=True, help="Print the answer as JSON, as the service sends it."
)
