"""One decoder under libFuzzer, in a process of its own."""

import os
import sys
import tempfile
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).parents[1]))

# What reads, and not what plans: more would only take longer to load.
_READS = ["wrung.lengths", "wrung.metrology.certificates", "wrung_service.api"]
with atheris.instrument_imports(include=_READS):
    from .decoders import DECODERS

__all__ = ["DECODERS", "fuzz"]


def fuzz(name: str, *arguments: object) -> str:
    """Run it with libFuzzer's arguments: what it says."""
    with tempfile.TemporaryFile() as said:
        sys.stdout.flush()
        # A copy of this process, as to load what reads takes longer than to fuzz it for a while.
        child = os.fork()
        if not child:
            os.dup2(said.fileno(), 1)
            os.dup2(said.fileno(), 2)
            atheris.Setup(["fuzz", *map(str, arguments)], DECODERS[name].reader())
            atheris.Fuzz()
        os.waitpid(child, 0)
        said.seek(0)
        return said.read().decode(errors="replace")
