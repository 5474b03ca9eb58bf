"""A block's first certificate, and what it does to plans that counted on its grade."""

from typing import Any, Final

import pytest

from store.changing import TEN, changed, client_of_a_test, send, with_ten
from store.planning import Client

__all__ = ["client_of_a_test"]
"""Fixtures, which pytest finds here."""

FIRST: Final[dict[str, Any]] = {
    "deviation": "0.02",
    "expanded_uncertainty": "0.06",
    "calibration": {
        "certificate": "K-7",
        "calibrated_on": "2027-02-20",
        "due_on": "2028-02-20",
        "degrees_of_freedom": 50,
        "variation": "0.03",
    },
}
"""A first certificate, well within the 0.2 µm of grade 1 at 5 mm (ISO 3650:1998; from memory)."""
ONCE: Final[dict[str, Any]] = {"coverage_factor": 1.0}


@pytest.mark.parametrize(
    ("certificate", "told"),
    [
        (FIRST, []),
        ({"calibration": {"calibrated_on": "2027-02-20", "due_on": "2028-02-20"}}, []),
        ({"calibration": {"variation": "0.03", "degrees_of_freedom": 9}}, []),
        ({**FIRST, "deviation": "0.15"}, ["changed"]),
        (
            {**FIRST, "deviation": "0", "expanded_uncertainty": "0.18", "calibration": ONCE},
            ["changed"],
        ),
        ({**FIRST, "calibration": {"variation": "0.9"}}, ["changed"]),
        ({**FIRST, "calibration": {"calibrated_on": "2002-02-20"}}, ["changed"]),
    ],
)
def test_a_first_certificate_within_the_limits_of_the_grade_marks_nobody(
    client: Client, certificate: dict[str, Any], told: list[str]
) -> None:
    """The plan counted on the limits; what is known now is no worse."""
    with_ten(client)
    block = {"id": "a/5", "set": "a", "nominal": "5", "grade": "1", **certificate}

    assert [each["reason"] for each in send(client, block, "put")] == told


def test_the_first_date_of_a_certificate_changes_no_block(client: Client) -> None:
    """Its plan counted no drift, and said so."""
    undated = changed({"calibration": {"calibrated_on": None}})
    undated["calibration"].pop("calibrated_on")
    send(client, undated, "put")
    with_ten(client)

    assert send(client, TEN, "put") == []
