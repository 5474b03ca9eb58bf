"""``wrung``: the group of all commands."""

import click

import wrung
from wrung_service.commands.check import check
from wrung_service.commands.compare import compare_sets
from wrung_service.commands.convert import convert
from wrung_service.commands.coverage import coverage
from wrung_service.commands.keys import keys
from wrung_service.commands.looking_after import backup, doctor, verify_history
from wrung_service.commands.migrate import migrate
from wrung_service.commands.service import openapi, serve, worker
from wrung_service.commands.shelves import export_shelf, import_shelf
from wrung_service.commands.solve import solve
from wrung_service.commands.trend import trend


@click.group(
    name="wrung",
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="""\b
Examples:
  wrung solve examples/requests/traveller.json   stacks, printed for the bench
  wrung solve --json < request.json              the same, for a program
  wrung convert certificate.csv                  a certificate as the blocks of a request
  wrung compare inch-81 inch-36                  what one set builds against another
  wrung serve                                    the HTTP service at 127.0.0.1:8000

\b
`wrung COMMAND --help` tells more. Completion of commands and options by the Tab key:
  eval "$(_WRUNG_COMPLETE=bash_source wrung)"    in ~/.bashrc; zsh_source and fish_source likewise
""",
)
@click.version_option(wrung.__version__, message="%(prog)s %(version)s")
def command_line() -> None:
    """Gauge block stacks that can be built from the blocks on the shelf, proven best."""


for each in (
    *(solve, coverage, compare_sets, check, convert, trend, serve, worker, openapi),
    *(migrate, keys, backup, doctor, verify_history, export_shelf, import_shelf),
):
    command_line.add_command(each)
