"""Records as a table, for whoever prefers CSV."""

import copy
import csv
import io

import pytest

from service.test_records import REQUEST, Client, answered


def rows_of(client: Client) -> list[dict[str, str]]:
    response = client.post("/v1/stacks", json=REQUEST, headers={"Accept": "text/csv"})
    assert response.headers["content-type"] == "text/csv; charset=utf-8"
    return list(csv.DictReader(io.StringIO(response.text)))


def test_one_row_a_block(client: Client) -> None:
    record = answered(client, REQUEST)["record"]
    rows = rows_of(client)

    assert [row["block_id"] for row in rows] == [
        block["id"] for stack in record["stacks"] for block in stack["blocks"]
    ]
    assert {row["request_sha256"] for row in rows} == {record["request_sha256"]}
    assert rows[-1]["target"] == "op20"


def test_json_is_what_comes_unless_a_table_is_preferred(client: Client) -> None:
    for accept in ("*/*", "application/json, text/csv;q=0.5", "text/html"):
        response = client.post("/v1/stacks", json=REQUEST, headers={"Accept": accept})
        assert response.headers["content-type"] == "application/json"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "|", "%"])
def test_no_cell_is_a_formula(client: Client, start: str) -> None:
    request = copy.deepcopy(REQUEST)
    request["targets"][0]["ref"] = f"{start}cmd"
    request["blocks"][0] |= {"serial": f"{start}1+1", "deviation": "-0.05"}

    text = client.post("/v1/stacks", json=request, headers={"Accept": "text/csv"}).text
    rows = list(csv.DictReader(io.StringIO(text)))

    assert rows[0]["target"] == f"'{start}cmd"
    assert [row["serial"] for row in rows if row["block_id"] == "K1/10"] == [f"'{start}1+1"]
    # A number is one, with its sign.
    assert "-0.05" in {row["block_deviation"] for row in rows}
