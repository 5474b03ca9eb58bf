"""``POST`` to ``/v1/soaking-times``, ``/v1/contact-compressions`` and ``/v1/drift-estimates``."""

from typing import Any

import pytest

from service.bodies import problem_name
from service.conftest import Client

SOAKING = "/v1/soaking-times"
CONTACT = "/v1/contact-compressions"
DRIFT = "/v1/drift-estimates"
BAR = {
    "unit": "mm",
    "material": "steel",
    "width": "9",
    "height": "35",
    "length": "100",
    "difference": 5,
    "remaining": 0.1,
}
BALL = {
    "unit": "mm",
    "force_newtons": 1,
    "ball_diameter": "6.35",
    "ball_material": "steel",
    "other_material": "steel",
}


def calibrated(on: str, deviation: str, **members: object) -> dict[str, Any]:
    return {"calibrated_on": on, "deviation": deviation, "expanded_uncertainty": "0.02", **members}


BLOCK = {
    "unit": "mm",
    "nominal": "5",
    "calibrations": [
        calibrated("2026-03-01", "0.10", due_on="2027-03-01"),
        calibrated("2025-03-01", "0"),
    ],
}


def test_a_drift_ends_the_use_before_the_limits_of_a_grade(client: Client) -> None:
    """As in `test_compare_and_trend.py`: 0.02 um are left of grade 0, at 0.1284 um a year."""
    free = client.post(DRIFT, json=BLOCK).json()
    graded = client.post(DRIFT, json={**BLOCK, "grade": "0"}).json()

    assert (free["due_on"], free["due_by_limits"]) == ("2027-03-01", False)
    assert (graded["due_on"], graded["due_by_limits"]) == ("2026-04-26", True)
    assert float(graded["change_a_year"]) == pytest.approx(0.1001, abs=1e-4)
    assert float(graded["expanded_uncertainty"]) == pytest.approx(0.0283, abs=1e-4)
    assert (graded["scatter"], graded["told_from_none"]) == (None, True)


def test_inches_and_fahrenheit_give_the_same_time(client: Client) -> None:
    size = {"unit": "in", "width": "0.5", "height": "1", "length": "4"}
    inches = BAR | size | {"temperature_unit": "degF", "difference": 9, "remaining": 0.18}
    metric = {**BAR, "width": "12.7", "height": "25.4", "length": "101.6"}

    found = client.post(SOAKING, json=metric).json()["minutes"]

    assert client.post(SOAKING, json=inches).json()["minutes"] == found > 0


def test_an_estimate_says_that_it_is_one_in_the_language_of_the_request(client: Client) -> None:
    for path, body in ((SOAKING, BAR), (CONTACT, BALL)):
        english = client.post(path, json=body).json()["remarks"]
        german = client.post(path, json={**body, "language": "de"}).json()["remarks"]

        assert "estimate" in english[0]["text"]
        assert "Schätzung" in german[0]["text"]
        assert [each["key"] for each in english] == [each["key"] for each in german]


def test_compression_in_both_units(client: Client) -> None:
    """0.25 in is 6.35 mm; a microinch 0.0254 um."""
    metric = client.post(CONTACT, json=BALL).json()
    inches = client.post(CONTACT, json={**BALL, "unit": "in", "ball_diameter": "0.25"}).json()

    assert (metric["small_unit"], inches["small_unit"]) == ("um", "uin")
    assert float(inches["compression"]) * 0.0254 == pytest.approx(
        float(metric["compression"]), abs=1e-4
    )


@pytest.mark.parametrize(
    ("path", "members", "status", "pointer"),
    [
        (SOAKING, BAR | {"mass_kg": 1}, 422, "/length"),
        (SOAKING, BAR | {"width": "0"}, 422, "/width"),
        (SOAKING, BAR | {"material": "steel-long"}, 422, "/material"),
        (SOAKING, BAR | {"language": "fr"}, 422, "/language"),
        (SOAKING, BAR | {"difference": 0}, 400, "/difference"),
        (CONTACT, BALL | {"ball_diameter": "-1"}, 400, "/ball_diameter"),
        (CONTACT, BALL | {"other_hollow": True}, 422, "/other_diameter"),
        (CONTACT, BALL | {"other_material": "steal"}, 422, "/other_material"),
        (DRIFT, BLOCK | {"calibrations": [calibrated("2026-03-01", "0")]}, 422, "/calibrations"),
        (DRIFT, BLOCK | {"grade": "7"}, 422, "/grade"),
        (DRIFT, BLOCK | {"nominal": "5000", "grade": "0"}, 422, "/nominal"),
        (
            DRIFT,
            BLOCK | {"calibrations": [calibrated("2026-03-01", "0", due_on="2026-02-01")]},
            *(422, "/calibrations/0/due_on"),
        ),
        (
            DRIFT,
            BLOCK | {"calibrations": [calibrated("2026-02-31", "0")]},
            *(422, "/calibrations/0/calibrated_on"),
        ),
    ],
)
def test_what_makes_no_sense_is_refused(
    client: Client, path: str, members: dict[str, Any], status: int, pointer: str
) -> None:
    response = client.post(path, json=members)

    assert response.status_code == status
    assert problem_name(response) in ("invalid-request", "unprocessable-content")
    assert [each["pointer"] for each in response.json()["errors"]] == [pointer]
