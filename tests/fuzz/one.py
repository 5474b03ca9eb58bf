"""One decoder under libFuzzer: ``python -m tests.fuzz.one NAME [libFuzzer's arguments]``."""

import sys
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).parents[1]))

# What reads, and not what plans: more would only take longer to load.
_READS = ["wrung.lengths", "wrung.metrology.certificates", "wrung_service.api"]
with atheris.instrument_imports(include=_READS):
    from .decoders import DECODERS


def main() -> None:
    """Fuzz until the time is up; exits with an error where an input raised one."""
    _, name, *arguments = sys.argv
    atheris.Setup(["fuzz", *arguments], DECODERS[name].reader())
    atheris.Fuzz()


if __name__ == "__main__":
    main()
