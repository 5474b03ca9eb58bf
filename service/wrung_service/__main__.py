"""The command line; ``python -m wrung_service`` alone starts the service."""

import io
import sys
from collections.abc import Sequence

from wrung_service.commands.group import command_line


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command and return its exit status, see `wrung_service.commands.status`."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        # Where output goes into a file, Windows has an encoding of its own, which lacks most names.
        sys.stdout.reconfigure(errors="backslashreplace")  # pyright: ignore[reportUnknownMemberType]
    try:
        command_line.main(args=arguments, prog_name="wrung")
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else int(ended.code is not None)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:] or ["serve"]))
