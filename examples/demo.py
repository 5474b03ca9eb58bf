"""Start the service, post an invented shop's traveller, print its stacks for the bench, and end.

Standard library only, run by the Python that `wrung` is installed for: `make demo`. The shop, its
sets and its job are invented.
"""

import json
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import bench_card

TRAVELLER = Path(__file__).parent / "requests" / "traveller.json"
SECONDS_TO_START = 60


def main() -> None:
    """Post the traveller, then the same with what the answer says to borrow."""
    request = json.loads(TRAVELLER.read_text(encoding="utf-8"))
    started = time.monotonic()
    with running_service() as address:
        took = time.monotonic() - started
        print(f"The service answers at {address}, {took:.1f} s after its start.")
        answer = post(address, request)
        second = post(address, with_borrowed(request, answer))
    bench_card.show(request, answer, second)


@contextmanager
def running_service(*options: str) -> Iterator[str]:
    """Run the service on a free loopback port; yields its address."""
    port = free_port()
    command = [sys.executable, "-m", "wrung_service", "serve", "--port", str(port), *options]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL) as service:  # noqa: S603 - our own
        try:
            address = f"http://127.0.0.1:{port}"
            wait_until_ready(address, service)
            yield address
        finally:
            service.terminate()


def free_port() -> int:
    """A port of the loopback interface that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_until_ready(address: str, service: "subprocess.Popen[bytes]") -> None:
    """Return once the service says that it is ready."""
    end = time.monotonic() + SECONDS_TO_START
    reason = ""
    while time.monotonic() < end:
        if service.poll() is not None:
            sys.exit(f"the service ended at once with {service.returncode}; its words are above")
        try:
            urllib.request.urlopen(f"{address}/readyz", timeout=2).close()
        except urllib.error.HTTPError as unready:
            reason = unready.read().decode()
        except OSError as silent:
            reason = str(silent)
        else:
            return
        time.sleep(0.05)
    sys.exit(f"the service was not ready within {SECONDS_TO_START} s: {reason}")


def post(address: str, request: dict[str, Any]) -> dict[str, Any]:
    """The answer to a request; ends the demo with the service's words if it refuses."""
    message = urllib.request.Request(
        f"{address}/v1/stacks",
        data=json.dumps(request).encode(),
        headers={"Content-Type": "application/json"},
    )
    try:
        with urllib.request.urlopen(message, timeout=60) as response:
            return dict(json.load(response))
    except urllib.error.HTTPError as refused:
        sys.exit(f"the service refused the request: {refused.read().decode()}")


def with_borrowed(request: dict[str, Any], answer: dict[str, Any]) -> dict[str, Any]:
    """The request with the blocks that the answer says would serve every operation."""
    wanted = (answer["shortage"] or {}).get("blocks_to_add", [])
    borrowed = [
        {
            "id": f"borrowed/{block['nominal']}#{number}",
            "nominal": block["nominal"],
            "role": block["role"],
            "limit_deviation": "8",
        }
        for number, block in enumerate(wanted, 1)
    ]
    return {**request, "blocks": [*request.get("blocks", []), *borrowed]}


if __name__ == "__main__":
    main()
