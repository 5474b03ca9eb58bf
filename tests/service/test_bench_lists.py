"""Lists and tables that are pasted into the page at ``/``: single blocks, and targets."""

import pytest

from service.bench_pages import SHELF, look
from service.conftest import Client
from wrung_service.api.bench.lists import read_lines

pytestmark = pytest.mark.usefixtures("without_a_shelf")


def test_single_blocks_are_pasted_as_a_list_or_a_table(client: Client) -> None:
    added = look(
        client,
        *(("unit", "mm"), ("add", "1"), ("new_set", "blocks-mm"), ("new_grade", "1")),
        *(("new_name", "L"), ("new_lengths", "1,005; 20\r\n10 10\r\n3/4 in")),
    )
    shelf = [pair for pair in added.values if pair[0] in {"set", "unit"}]
    page = look(client, *shelf, ("want", "31.005"))
    fewer = look(client, *shelf, ("want", "31.005"), ("gone", "L/10"), ("gone", "L/10#2"))

    assert ("set", "L~blocks-mm~1~1.005~20~10~10~19.05") in added.values
    assert "31.005 mm" in page.texts
    assert any(each.startswith("No stack") for each in fewer.texts)


def test_a_table_of_single_blocks_brings_their_figures(client: Client) -> None:
    table = (
        "id;Nominal;deviation;expanded uncertainty;serial;unit\r\n"
        "a;10;+0,12;0,05;K-7;mm\r\nb;20;;;;mm\r\nc;1;;;;in\r\nd;x;;;;mm\r\n"
    )
    added = look(
        client,
        *(("unit", "mm"), ("add", "1"), ("new_set", "blocks-mm"), ("new_grade", "1")),
        *(("new_name", "L"), ("new_lengths", table)),
    )
    kept = "L~blocks-mm~1~10;deviation=+0.12;expanded_uncertainty=0.05;serial=K-7~20"
    shelf = [pair for pair in added.values if pair[0] in {"set", "unit"}]
    page = look(client, *shelf, ("want", "30"))

    assert ("set", kept) in added.values
    assert "30 mm" in page.texts
    assert "L K-7" in page.texts
    # One block with a certificate and one of the grade, as the API answers.
    blocks = [
        {"id": "a", "nominal": "10", "deviation": "0.12", "expanded_uncertainty": "0.05"},
        {"id": "b", "nominal": "20", "grade": "1"},
    ]
    body = {
        "unit": "mm",
        "blocks": blocks,
        "targets": [{"ref": "a", "kind": "length", "length": "30"}],
    }
    error = client.post("/v1/stacks", json=body).json()["stacks"][0]["worst_case_error"]
    # The page rounds it up to two figures.
    shown = [float(text[2:-3]) for text in page.texts if text.startswith("± ")]
    assert pytest.approx(float(error), rel=0.1) in shown


def test_pasted_lines_are_targets_with_their_names(client: Client) -> None:
    page = look(client, *SHELF, ("take", "1"), ("lines", "0.4386 30\r\n1 3/8\r\n.375 slot\r\nx y"))
    kept = [value for name, value in page.values if name == "kept"]

    assert kept == [
        *("30~length~want=0.4386", "40~length~want=1 3/8"),
        *("slot~length~want=.375", "50~length~want=x y"),
    ]
    named = {f"stack for operation {name}" for name in ("30", "40", "slot")}
    assert named <= set(page.texts)


@pytest.mark.parametrize(
    ("line", "read"),
    [
        ("op10\t12,345", ("12,345", "op10")),
        ("12,5;mm;key way", ("12,5 mm", "key way")),
        ("slot 7: 1 3/8", ("1 3/8", "slot 7")),
        ("1.5 ±.001 op 10", ("1.5 ±.001", "op 10")),
        # Whether these are lengths or names nobody knows.
        ("0.5 0.25 0.125", ("0.5 0.25 0.125", "")),
    ],
)
def test_a_line_of_a_table_has_length_and_name_in_either_order(
    line: str, read: tuple[str, str]
) -> None:
    assert list(read_lines(line, "in")) == [read]
