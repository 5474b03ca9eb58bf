"""An invented shop's crib in every state that its pages show, around the moment of the test."""

from datetime import UTC, datetime, timedelta
from typing import Any

from litestar.testing import TestClient

from store.rows import Clock
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store
from wrung_service.usecases.keys import WantedKey, make_key

LONG = "a-set-with-a-name-as-long-as-shops-have-them.2"
_NAME = 'Mill & <b>Lathe</b> "hall", where names go on for ever and ever'
_HALL = "/v1/sites/mill"
_CSV = {"Content-Type": "text/csv"}


def fill(url: str) -> str:
    """Put it into an empty store; gives the key of its attendant."""
    now = datetime.now(UTC)
    clock = Clock(now - timedelta(days=30))
    store = Store(url)
    wanted = WantedKey(holder="attendant", scopes=("crib", "plan"))
    key = make_key(store, wanted, by="a test", now=clock.now).text
    app = create_app(Settings(solve_workers=1, background="off"), store=store, clock=clock)
    with TestClient(app.edge) as client:
        _Filling(client, clock, now).all()
    return key


class _Filling:
    def __init__(self, client: TestClient[Any], clock: Clock, now: datetime) -> None:
        self._client, self._clock, self._now = client, clock, now

    def all(self) -> None:
        self._sets()
        self._certificates()
        self._conditions()
        self._loans()
        self._plans()

    def _sets(self) -> None:
        self._put("", name=_NAME, time_zone="Europe/Berlin")
        self._put("/sets/bench", composition="metric-122", grade="1", serial="<i>7</i>")
        self._put("/sets/inch", composition="inch-81", grade="AS-1")
        self._put(f"/sets/{LONG}", composition="metric-47-a", grade="0")
        loose = "L" * 60
        self._put(f"/blocks/{loose}", id=loose, nominal="500", unit="mm", grade="1", serial='S"<&>')

    def _certificates(self) -> None:
        for year, deviation in ((2023, "0.02"), (2024, "-0.03"), (2025, "40"), (2026, "0.04")):
            self._import(
                "id,certificate,calibrated_on,due_on,deviation,expanded_uncertainty",
                f"bench/10,<b>K-{year}</b>,{year}-06-01,{year + 2}-06-01,{deviation},0.05",
            )
        self._import("id,certificate,due_on", f"bench/20,{'K' * 60},{self._now.year - 1}-01-01")

    def _conditions(self) -> None:
        for name, condition, reason in (
            ("bench/1.001", "missing", "not in the drawer <here>"),
            ("bench/1.002", "damaged", "scratched, " * 15),
            ("bench/1.003", "at_calibration", None),
            ("inch/0.118", "retired", None),
        ):
            body = {"blocks": [name], "condition": condition, "reason": reason}
            self._post(f"{_HALL}/condition-changes", **body)

    def _loans(self) -> None:
        for names, who in ((["bench/1.1", "inch/4"], "Kim"), (["bench/1.2"], "X" * 60)):
            due = (self._now - timedelta(days=20)).isoformat()
            self._post(f"{_HALL}/issues", blocks=names, borrower=who, due_at=due)
        self._post(f"{_HALL}/issues", blocks=["bench/1.3"])

    def _plans(self) -> None:
        self._clock.now = self._now - timedelta(hours=1)
        out = self._plan("4711 <b>bold</b>", 'op "20", a long name', "12.345", (-0.5, 6))
        names = [each["block"] for each in out["promises"]]
        self._post(f"{_HALL}/issues", blocks=names, plan=out["id"])
        risky = self._plan("4720", "40", "55.005", (-0.9, 5))
        name = risky["promises"][0]["block"]
        self._post(f"{_HALL}/condition-changes", blocks=[name], condition="damaged")

    def _plan(self, job: str, operation: str, length: str, span: tuple[float, float]) -> Any:  # noqa: ANN401 - an answer of the service
        first, last = ((self._now + timedelta(hours=each)).isoformat() for each in span)
        return self._post(
            "/v1/plans",
            unit="mm",
            crib={"site": "mill", "needed_from": first, "needed_until": last},
            job=job,
            operation=operation,
            targets=[{"kind": "length", "ref": "a", "length": length}],
        )

    def _put(self, path: str, **body: object) -> None:
        answer = self._client.put(_HALL + path, json=body)
        assert answer.is_success, answer.text

    def _post(self, path: str, **body: object) -> Any:  # noqa: ANN401 - an answer of the service
        answer = self._client.post(path, json=body)
        assert answer.is_success, answer.text
        return answer.json()

    def _import(self, *lines: str) -> None:
        content = "\n".join(lines)
        answer = self._client.post(f"{_HALL}/inventory-imports", content=content, headers=_CSV)
        assert answer.is_success, answer.text
