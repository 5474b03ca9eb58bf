"""Start the service, post an invented shop's traveller, print its stacks for the bench, and end.

    python demo.py [FOLDER]

Its cards go into the folder, `demo-cards` in the clone if none is named. Standard library only, run
by the Python that `wrung` is installed for: `make demo`. The shop, its sets and its job are
invented.
"""

import json
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import bench_card

TRAVELLER = Path(__file__).parent / "requests" / "traveller.json"
CARDS = Path(__file__).parents[1] / "demo-cards"
PAGE = "http://127.0.0.1:8000/"


def main() -> None:
    """Post the traveller, then the same with what the answer says to borrow."""
    request = json.loads(TRAVELLER.read_text(encoding="utf-8"))
    started = time.monotonic()
    with running_service() as address:
        took = time.monotonic() - started
        print(f"The service answers at {address}, {took:.1f} s after its start.")
        answer = post(address, request)
        whole = with_borrowed(request, answer)
        second = post(address, whole)
        files = save_cards(address, whole, second, Path(sys.argv[1]) if sys.argv[1:] else CARDS)
    bench_card.show(request, answer, second)
    print("\n".join(("", *card_lines(files), "", *page_lines(request))))


@contextmanager
def running_service(*options: str) -> Iterator[str]:
    """Run the service on a free loopback port; yields its address."""
    # Where a proxy is set, it would look for the service on its own machine.
    urllib.request.install_opener(urllib.request.build_opener(urllib.request.ProxyHandler({})))
    command = [sys.executable, "-m", "wrung_service", "serve", "--port", "0", *options]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as service:  # noqa: S603 - our own
        try:
            yield address_of(service)
        finally:
            service.terminate()


def address_of(service: "subprocess.Popen[bytes]") -> str:
    """Where it listens, once it does, by its log; nobody need read the rest of that."""
    for line in service.stdout or ():
        said = json.loads(line)
        if said["event"] == "listening":
            return str(said["url"]).rstrip("/")
    sys.exit(f"the service ended at once with {service.wait()}; its words are above")


def post(address: str, request: dict[str, Any]) -> dict[str, Any]:
    """The stacks that the service finds."""
    return dict(json.loads(sent(f"{address}/v1/stacks", request, "application/json")))


def sent(address: str, request: dict[str, Any], media_type: str) -> bytes:
    """The answer to a request; ends the demo with the service's words if it refuses."""
    message = urllib.request.Request(
        address,
        data=json.dumps(request).encode(),
        headers={"Content-Type": "application/json", "Accept": media_type},
    )
    try:
        with urllib.request.urlopen(message, timeout=60) as response:
            return bytes(response.read())
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


def save_cards(
    address: str, request: dict[str, Any], answer: dict[str, Any], folder: Path
) -> dict[str, Path]:
    """The first and the last card as pictures, and all of them to print; by what they are."""
    folder.mkdir(parents=True, exist_ok=True)
    cards = f"{address}/v1/cards?job=demo"
    last = len(answer["stacks"])
    made: dict[str, Path] = {}
    for page in (1, last):
        target = answer["stacks"][page - 1]["target"]
        name = f"the card of {target}"
        made[name] = folder / f"{target.replace(' ', '-')}.png"
        made[name].write_bytes(sent(f"{cards}&page={page}", request, "image/png"))
    name = f"all {last} cards, to print"
    made[name] = folder / "cards.pdf"
    made[name].write_bytes(sent(cards, request, "application/pdf"))
    return made


def card_lines(files: dict[str, Path]) -> Iterator[str]:
    """Where the cards are."""
    (folder,) = {path.parent for path in files.values()}
    yield f"Cards for the bench are in {folder.resolve()}"
    for name, path in files.items():
        yield f"  {path.name:24} {name}"


def page_lines(request: dict[str, Any]) -> Iterator[str]:
    """Where the page to type into will be; its address can hold a shelf and a length."""
    yield f"The page for people at the bench: run `make serve`, then open {PAGE}"
    first, typed = request["sets"][0], request["targets"][1]
    question = {
        "unit": request["unit"],
        "set": f"{first['id']}~{first['composition']}~{first['grade']}",
        "gone": [f"{first['id']}/{nominal.rstrip('0')}" for nominal in first["missing"]],
        "want": typed["length"],
    }
    yield f"  {typed['ref']}, from the same set with the same blocks missing:"
    yield f"  {PAGE}?{urllib.parse.urlencode(question, doseq=True, safe='~/')}"


if __name__ == "__main__":
    main()
