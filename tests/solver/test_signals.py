"""A program that embeds the library keeps its own signal handlers."""

import subprocess
import sys

from patience import PATIENCE_S

# Six stacks of one set: more than one demand wants the same blocks, so a model is searched.
PROGRAM = """
import signal
from wrung import GaugeSet, LengthTarget, inch, solve

shelf = GaugeSet(id="bench", composition="inch-81", grade="AS-1").blocks()
lengths = ("0.6757", "1.1427", "0.8787", "0.9057", "1.0227", "0.7997")
targets = [LengthTarget(ref=text, length=inch(text)) for text in lengths]
print(solve(shelf, targets, time_limit_ms=1000).outcome)
try:
    signal.raise_signal(signal.SIGINT)
except KeyboardInterrupt:
    print("interrupted")
"""


def test_ctrl_c_still_interrupts_after_a_search() -> None:
    """CP-SAT would take the signal over and not give it back, if it were let."""
    done = subprocess.run(  # noqa: S603 -- our own program, by this very interpreter
        [sys.executable, "-c", PROGRAM],
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )
    assert done.returncode == 0, done.returncode
    assert done.stdout.splitlines()[-1] == "interrupted"
