"""Write anew what the service answers to the examples of coverage, and the guide's drawing of it.

Run it as ``python -m contract.renew_coverage`` in ``tests`` after a change on purpose; then ``make
openapi``. Look at the difference before you commit it.
"""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from litestar.testing import TestClient

import wrung_service
from wrung_service.app import create_app
from wrung_service.settings import Settings

_PACKAGE = Path(wrung_service.__file__).parent
_EXAMPLES = _PACKAGE / "api" / "examples"
DRAWING = _PACKAGE / "guide" / "drawings" / "coverage.svg"
_LINE = 90


def main() -> None:
    """Ask the service, and write what it says."""
    with TestClient(create_app(Settings())) as client:
        for name in ("depleted", "drawn"):
            request = request_of(name)
            answer = client.post("/v1/coverage", json=request).json()
            path = _EXAMPLES / f"coverage-{name}-answer.json"
            path.write_text(written({**answer, "solve_ms": 12.5}) + "\n", "utf-8")
        drawn = {**request_of("depleted"), "picture": True}
        DRAWING.write_text(
            client.post("/v1/coverage", json=drawn).json()["picture"] + "\n", "utf-8"
        )


def request_of(name: str) -> dict[str, Any]:
    """An example request."""
    path = _EXAMPLES / f"coverage-{name}-request.json"
    return dict(json.loads(path.read_text(encoding="utf-8")))


def written(value: object, indent: str = "") -> str:
    """JSON with as much on a line as has room there."""
    flat = json.dumps(value, ensure_ascii=False)
    if len(flat) < _LINE or isinstance(value, str):
        return flat
    inner = f"{indent}  "
    if isinstance(value, Mapping):
        lines = [f"{inner}{json.dumps(key)}: {written(each, inner)}" for key, each in value.items()]
        return "{\n" + ",\n".join(lines) + f"\n{indent}}}"
    if isinstance(value, Sequence):
        lines = [inner + written(each, inner) for each in value]
        return "[\n" + ",\n".join(lines) + f"\n{indent}]"
    return flat


if __name__ == "__main__":
    main()
