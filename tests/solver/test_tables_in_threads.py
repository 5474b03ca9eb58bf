"""Tables are read at the first use, which may be in several threads of a service at one time."""

import subprocess
import sys

SCRIPT = """
import importlib.util, sys, threading
import wrung.grades

sys.setswitchinterval(1e-6)

def fresh(number):
    # As in a new process: its types have never been read into.
    spec = importlib.util.spec_from_file_location(f"fresh{number}", wrung.grades.__file__)
    module = sys.modules[spec.name] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module

def first_use(module, barrier):
    barrier.wait()
    module.grade("1", "mm")

for number in range(60):
    module, barrier = fresh(number), threading.Barrier(4)
    threads = [threading.Thread(target=first_use, args=(module, barrier)) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
"""


def test_the_first_use_may_be_in_many_threads() -> None:
    """Without a lock the process dies of a segmentation fault within a few tries."""
    command = [sys.executable, "-c", SCRIPT]
    done = subprocess.run(command, capture_output=True, check=False)  # noqa: S603 - our own

    assert (done.returncode, done.stderr) == (0, b"")
