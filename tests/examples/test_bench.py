"""The benchmark runs from its command to its last line. What it measures is not judged here."""

import json
import re
import subprocess
import sys
from pathlib import Path

from patience import PATIENCE_S

ROOT = Path(__file__).parents[2]


def bench(*arguments: str) -> str:
    """What the command prints."""
    command = [sys.executable, "-m", "tests.bench", "--load-seconds", "0.3", *arguments]
    done = subprocess.run(  # noqa: S603 - our own
        command, cwd=ROOT, capture_output=True, text=True, timeout=PATIENCE_S, check=True
    )
    return done.stdout


def test_a_generator_s_families_are_timed_over_library_and_http() -> None:
    """A line with six times, the proof and the outcomes; then the ratio to the no-op."""
    printed = bench("--family", "inch-1", "--count", "2")
    times = r"( +[0-9]+\.[0-9]){6}"
    assert re.search(rf"^inch-1 +2 {times} +2/2  2 optimal$", printed, re.MULTILINE), printed
    assert re.search(
        r"^inch-1: [0-9]+ requests/s .* ratio [0-9.]+ \([0-9.]+ to [0-9.]+\)$",
        printed,
        re.MULTILINE,
    )
    assert "refused" not in printed


def test_a_file_of_requests_is_timed(tmp_path: Path) -> None:
    request = json.loads((ROOT / "examples" / "requests" / "partial.json").read_text("utf-8"))
    file = tmp_path / "day.jsonl"
    file.write_text(f"{json.dumps(request)}\n\n", encoding="utf-8")
    printed = bench("--requests", str(file), "--load-seconds", "0")
    assert re.search(r"^day +1 .* 1/1  1 partial$", printed, re.MULTILINE), printed
