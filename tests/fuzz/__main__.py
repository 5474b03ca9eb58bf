"""Fuzz every decoder, guided by coverage.

    python -m tests.fuzz --seconds 3600 --keep

The time is shared by all of them. With ``--keep`` inputs that reach something new are kept in
``corpus/``, which `test_corpus.py` reads each time. It ends with 1 if an input raised anything but
a refusal, or took more than ten seconds, and prints that input in base64.
"""

import argparse
import base64
import re
import sys
import tempfile
from pathlib import Path
from typing import Final

from msgspec import Struct

from .corpus import keep, kept
from .one import DECODERS, fuzz

_LONGEST: Final = 8192
_DONE: Final = re.compile(r"Done (\d+) runs|stat::number_of_executed_units: (\d+)")


class Fuzzed(Struct, frozen=True, kw_only=True):
    """What came of one decoder."""

    runs: int
    inputs: list[bytes]
    found: tuple[bytes, ...]
    said: str


def main() -> int:
    """Fuzz, print a table, and keep what is new."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--keep", action="store_true")
    parser.add_argument("--decoder", action="append", choices=DECODERS)
    given = parser.parse_args()
    names = given.decoder or list(DECODERS)
    print("| decoder | runs | inputs kept | faults |\n| --- | ---: | ---: | ---: |")
    failed = False
    for name in names:
        fuzzed = _fuzz(name, max(1, given.seconds // len(names)))
        print(
            f"| {name} | {fuzzed.runs} | {len(fuzzed.inputs)} | {len(fuzzed.found)} |", flush=True
        )
        for each in fuzzed.found:
            print(f"{name}: {base64.b64encode(each).decode()}\n{fuzzed.said}", file=sys.stderr)
        failed |= bool(fuzzed.found)
        if given.keep:
            keep(name, fuzzed.inputs)
    return int(failed)


def _fuzz(name: str, seconds: int) -> Fuzzed:
    with tempfile.TemporaryDirectory() as folder:
        known, faults = Path(folder) / "known", Path(folder) / "faults"
        known.mkdir()
        faults.mkdir()
        for number, data in enumerate((*kept(name), *DECODERS[name].begin)):
            (known / str(number)).write_bytes(data)
        said = fuzz(
            name,
            f"-max_total_time={seconds}",
            f"-max_len={_LONGEST}",
            f"-artifact_prefix={faults}/",
            "-timeout=60",
            "-rss_limit_mb=2048",
            "-print_final_stats=1",
            known,
        )
        found = tuple(path.read_bytes() for path in sorted(faults.iterdir()))
        done = _DONE.search(said)
        return Fuzzed(
            runs=int(next(filter(None, done.groups()))) if done else 0,
            inputs=[path.read_bytes() for path in known.iterdir()],
            found=found,
            said=said[-4000:] if found else "",
        )


if __name__ == "__main__":
    sys.exit(main())
