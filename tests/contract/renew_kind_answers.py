"""Write anew what the service answers to the examples of ``POST /v1/stacks``.

Run it as ``python -m contract.renew_kind_answers`` in ``tests`` where another plan, as good as the
one that stands in the examples, is found now; then ``make openapi``. Look at the difference before
you commit it: figures that changed without a reason are a fault.
"""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from litestar.testing import TestClient

import wrung_service.api
from wrung_service.api.kinds.examples import file_of
from wrung_service.api.kinds.wanted import KINDS
from wrung_service.app import create_app
from wrung_service.settings import Settings

_FOLDER = Path(wrung_service.api.__file__).parent / "examples"


def main() -> None:
    """Ask the service, and write what differs in more than time and method."""
    with TestClient(create_app(Settings(), clock=clock)) as client:
        for name in _names():
            request = json.loads(_path(f"{name}-request").read_text(encoding="utf-8"))
            answer = client.post("/v1/stacks", json=request).json()
            path = _path(f"{name}-answer")
            if not path.exists() or _lasting(json.loads(path.read_text("utf-8"))) != _lasting(
                answer
            ):
                path.write_text(json.dumps(answer, indent=2, ensure_ascii=False) + "\n", "utf-8")
        request = json.loads(_path("stacks-traveller-request").read_text(encoding="utf-8"))
        record = client.post("/v1/stacks", json=request).json()["record"]
        check = client.post("/v1/stack-checks", json={"record": record})
        for name, sent in (("request", {"record": record}), ("answer", check.json())):
            text = json.dumps(sent, indent=2, ensure_ascii=False) + "\n"
            _path(f"record-check-{name}").write_text(text, "utf-8")
        table = client.post("/v1/stacks", json=request, headers={"Accept": "text/csv"})
        (_FOLDER / "stacks-record.csv").write_bytes(table.content)


def clock() -> datetime:
    """When the records of the examples are made."""
    return datetime(2026, 11, 25, 9, tzinfo=UTC)


def _names() -> list[str]:
    """One of every kind of target, and the others that have an answer."""
    others = sorted(path.name.removesuffix("-answer.json") for path in _FOLDER.glob("stacks-*"))
    kinds = [file_of(kind, "").removesuffix("-") for kind in KINDS]
    return [*kinds, *(name for name in others if _path(f"{name}-answer").exists())]


def _path(name: str) -> Path:
    return _FOLDER / f"{name}.json"


def _lasting(answer: dict[str, Any]) -> dict[str, Any]:
    return {**answer, "solve_ms": 0, "diagnostics": None}


if __name__ == "__main__":
    main()
