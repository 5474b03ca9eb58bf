"""Whole shelves in and out, certificates, and what is due for calibration; on both databases."""

import csv
import io
import json
import re
from collections.abc import Iterator
from datetime import UTC, date, datetime
from typing import Any, TypeAlias

import pytest
from httpx import Response
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar
from litestar.testing import TestClient

from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.faults import Faults
from wrung_service.api.inventory.csv_form import as_json, read_lines, write_csv
from wrung_service.api.inventory.shapes import Inventory
from wrung_service.api.shelf.block_body import Shared, read_blocks
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.blocks import KeptBlock
from wrung_service.store.engine import Store
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.shelf.rows import COLUMNS, row_of
from wrung_service.usecases.shelf.write_blocks import WantedBlock, made_block

Client: TypeAlias = TestClient[Any]

# Half past one in the morning of the second in Berlin.
NOW = datetime(2027, 3, 2, 0, 30, tzinfo=UTC)
HALL = "/v1/sites/north-hall"
CSV = {"Content-Type": "text/csv"}


@pytest.fixture
def client(store: Store) -> Iterator[Client]:
    """A site with two blocks in a set and one beside it."""
    app = create_app(Settings(solve_workers=2), store=store, clock=lambda: NOW)
    with TestClient(app) as client:
        client.put(HALL, json={"name": "North hall", "time_zone": "Europe/Berlin"})
        blocks = [
            {"id": "saw/20", "nominal": "20", "grade": "2", "uses": 3},
            {
                "id": "saw/50",
                "nominal": "50",
                "grade": "2",
                "serial": "88",
                "calibration": {"certificate": "K-1", "due_on": "2027-03-01"},
            },
        ]
        made = client.put(f"{HALL}/sets/saw", json={"material": "steel", "blocks": blocks})
        assert made.status_code == 201, made.text
        inch = {"id": "inch", "nominal": ".5", "unit": "in", "grade": "AS-1"}
        assert client.put(f"{HALL}/blocks/inch", json=inch).status_code == 201
        yield client


def bring_in(client: Client, text: str, *, preview: bool = False) -> Response:
    address = f"{HALL}/inventory-imports{'?preview=true' if preview else ''}"
    return client.post(address, content=text.encode(), headers=CSV)


def exported(client: Client) -> str:
    return client.get(f"{HALL}/inventory", headers={"Accept": "text/csv"}).text


class TestRoundTrips:
    def test_what_went_out_as_csv_comes_in_without_a_change(self, client: Client) -> None:
        report = bring_in(client, exported(client)).json()

        assert (report["added"], report["changed"], report["unchanged"]) == (0, 0, 3)

    def test_what_went_out_as_json_comes_in_without_a_change(self, client: Client) -> None:
        shelf = client.get(f"{HALL}/inventory").json()

        report = client.post(f"{HALL}/inventory-imports", json=shelf).json()

        assert (report["added"], report["changed"], report["unchanged"]) == (0, 0, 3)
        assert report["sets"] == [{"id": "saw", "effect": "unchanged"}]

    def test_another_site_gets_the_same_shelf(self, client: Client) -> None:
        shelf = client.get(f"{HALL}/inventory").json()
        client.put("/v1/sites/south", json={"name": "South", "time_zone": "UTC"})

        report = client.post("/v1/sites/south/inventory-imports", json=shelf)

        assert report.json()["added"] == 3, report.text
        assert client.get("/v1/sites/south/inventory").json() == shelf


class TestImport:
    def test_square_blocks_stay_square(self, client: Client) -> None:
        """From the composition into the crib, through CSV, and into an answer with handwork."""
        long = {"composition": "inch-long-8-square", "grade": "AS-1"}
        assert client.put(f"{HALL}/sets/L", json=long).status_code == 201
        table = exported(client)
        sections = {row["id"]: row["section"] for row in csv.DictReader(io.StringIO(table))}
        assert sections["L/5"] == "square"
        assert sections["inch"] == ""

        asked = {
            "unit": "in",
            "crib": {"site": "north-hall", "sets": ["L"]},
            "targets": [{"ref": "a", "kind": "length", "length": "11"}],
            "handwork": True,
            "record": True,
        }
        answer = client.post("/v1/stacks", json=asked).json()

        assert {block["section"] for block in answer["stacks"][0]["blocks"]} == {"square"}
        said = " ".join(step["text"] for step in answer["handwork"][0]["steps"])
        assert "through the holes" in said
        assert {each["section"] for each in answer["record"]["request"]["blocks"]} == {"square"}

    def test_a_preview_says_what_would_change_and_changes_nothing(self, client: Client) -> None:
        text = "id,nominal,grade,uses\nsaw/20,20,2,4\nnew,7,1,\n"

        report = bring_in(client, text, preview=True).json()

        assert report["applied"] is False
        assert (report["added"], report["changed"], report["unchanged"]) == (1, 1, 0)
        changed, added = report["blocks"]
        assert changed["changes"] == [{"member": "uses", "before": "3", "after": "4"}]
        assert added == {"id": "new", "effect": "added", "changes": []}
        assert client.get(f"{HALL}/blocks/new").status_code == 404
        assert bring_in(client, text).json() == {**report, "applied": True}
        assert client.get(f"{HALL}/blocks/saw/20").json()["uses"] == 4

    def test_columns_that_it_lacks_stay(self, client: Client) -> None:
        bring_in(client, "id,serial\nsaw/50,\nsaw/20,7\n")

        first, second = (client.get(f"{HALL}/blocks/saw/{n}").json() for n in (50, 20))
        assert (first["serial"], first["calibration"]["certificate"]) == (None, "K-1")
        assert (second["serial"], second["uses"], second["set"]) == ("7", 3, "saw")

    def test_spreadsheets_of_many_countries_can_write_it(self, client: Client) -> None:
        text = "\ufeffID;Nominal;Grade;Limit deviation\r\nnew;1,005;1;0,2\r\n"

        assert bring_in(client, text).json()["added"] == 1
        block = client.get(f"{HALL}/blocks/new").json()
        assert (block["nominal"], block["limit_deviation"]) == ("1.005", "0.2")

    def test_a_minus_of_print_may_stand_before_a_decimal_comma(self, client: Client) -> None:
        text = "id;nominal;deviation;expanded uncertainty\nnew;1;\N{MINUS SIGN}0,05;.06\n"

        assert bring_in(client, text).json()["added"] == 1
        assert client.get(f"{HALL}/blocks/new").json()["deviation"] == "-0.05"

    @pytest.mark.parametrize(
        ("text", "said"),
        [
            ("id,nominal\nnew,x\n", "Line 2, nominal"),
            ("id,nominal,grade\nnew,7,1\n\nother,7,9\n", "Line 4, grade"),
            ("id,nominal,grade,due_on\nnew,7,1,2027-02-31\n", "Line 2, due_on"),
            ("id,nominal,grade,uses\nnew,7,1,many\n", "Line 2, uses: must be a whole number."),
            ("id,nominal,grade,set\nnew,7,1,none\n", "Line 2, set"),
            ("id,nominal,grade\nnew,7,1\nnew,7,1\n", "Line 3, id"),
            ("id,serail\nsaw/20,7\n", "serial"),
            ("nominal\n7\n", "no column id"),
            ("", "no column id"),
            ("id,nominal\nnew\n", "Line 2 has 1 fields"),
        ],
    )
    def test_what_is_wrong_is_said_by_its_line(self, client: Client, text: str, said: str) -> None:
        before = exported(client)

        refused = bring_in(client, text)

        assert refused.status_code == 422, refused.text
        assert said in refused.json()["detail"]
        assert exported(client) == before

    def test_all_of_it_comes_in_or_nothing(self, client: Client) -> None:
        text = "id,nominal,grade\nnew,7,1\nsaw/20,21,2\n"

        assert bring_in(client, text).status_code == 409
        assert client.get(f"{HALL}/blocks/new").status_code == 404

    def test_a_set_of_122_comes_in_one_request(self, client: Client) -> None:
        client.put(f"{HALL}/sets/b", json={"composition": "metric-122", "grade": "1"})
        shelf = exported(client)
        client.put("/v1/sites/south", json={"name": "South", "time_zone": "UTC"})
        rows = [row for row in csv.DictReader(io.StringIO(shelf)) if row["set"] == "b"]
        body = [{k: v for k, v in row.items() if k in ("id", "nominal", "grade")} for row in rows]

        report = client.post("/v1/sites/south/inventory-imports", json={"blocks": body})

        assert report.json()["added"] == 122


PLAIN = st.text(st.characters(exclude_categories=["C", "Zl", "Zp"]), min_size=1, max_size=20).map(
    lambda text: text.strip() or "x"
)
TEXT = PLAIN | st.sampled_from(["=1+1", "@SUM(A1)", "+49 30 1", "-12", "'=1", "''-x", "'", "1;2,5"])
AMOUNT = st.integers(0, 10**6)
FIGURE = st.floats(0, 20, allow_nan=False)


@st.composite
def kept_blocks(draw: st.DrawFn) -> KeptBlock:
    """A block with whatever can be known of it."""
    calibration: dict[str, Any] = {
        "certificate": draw(st.none() | TEXT),
        "laboratory": draw(st.none() | TEXT),
        "due_on": draw(st.none() | st.dates(date(1900, 1, 1)).map(str)),
        "coverage_factor": draw(st.floats(1, 10)),
        "expansion": draw(st.none() | FIGURE),
    }
    body = {
        "id": "a/1.005#2",
        "nominal": f"{draw(st.integers(1, 10**6)) / 10**4:.4f}",
        "unit": draw(st.sampled_from(["mm", "in"])),
        "role": draw(st.sampled_from(["gauge", "wear"])),
        "limit_deviation": str(draw(st.integers(0, 1000))),
        "serial": draw(st.none() | TEXT),
        "maker_number": draw(st.none() | TEXT),
        "condition": draw(st.sampled_from(["fit", "damaged", "at_calibration"])),
        "condition_reason": draw(st.none() | TEXT),
        "uses": draw(AMOUNT),
        "calibration": draw(st.none() | st.just(calibration)),
    }
    (wanted,) = read(json.dumps({"blocks": [body]}).encode())
    return made_block(wanted, Acting(who="a test", at=NOW))


def read(body: bytes) -> tuple[WantedBlock, ...]:
    faults = Faults()
    decoded = BodyDecoder(Inventory, {}).decode(body)
    blocks = read_blocks(decoded.blocks, Shared(), ("blocks",), faults)
    assert faults.found == []
    return blocks


@given(kept_blocks())
def test_csv_says_all_that_is_known_of_a_block(kept: KeptBlock) -> None:
    lines = read_lines(write_csv([kept]))

    (again,) = read(as_json(lines, {}))

    assert row_of(made_block(again, Acting(who="a test", at=NOW))) == row_of(kept)
    assert lines.rows[0].keys() == set(COLUMNS)


@given(
    kept_blocks(),
    st.fixed_dictionaries({"bom": st.booleans(), "quoted": st.booleans(), "line": st.booleans()}),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["\r\n", "\n"]),
)
def test_a_spreadsheet_may_write_it_anew(
    kept: KeptBlock, habit: dict[str, bool], separator: str, end: str
) -> None:
    """Other separators, decimal commas, a byte order mark, every field quoted, ``sep=``."""
    rows = list(csv.reader(io.StringIO(write_csv([kept]).decode(), newline="")))
    if separator != ",":
        rows[1:] = [list(map(with_comma, COLUMNS, row)) for row in rows[1:]]
    text = io.StringIO()
    quoted = csv.writer(text, delimiter=separator, quoting=csv.QUOTE_ALL, lineterminator=end)
    plain = csv.writer(text, delimiter=separator, lineterminator=end)
    (quoted if habit["quoted"] else plain).writerows(rows)
    first = f"sep={separator}{end}" if habit["line"] else ""
    data = (("\ufeff" if habit["bom"] else "") + first + text.getvalue()).encode()

    (again,) = read(as_json(read_lines(data), {}))

    assert row_of(made_block(again, Acting(who="a test", at=NOW))) == row_of(kept)


def with_comma(column: str, text: str) -> str:
    """A figure as it is written where decimals have a comma."""
    figures = {"coverage_factor", "expansion"}
    return text.replace(".", ",") if column in {*figures, "nominal", "limit_deviation"} else text


@given(kept_blocks())
def test_no_field_is_a_formula(kept: KeptBlock) -> None:
    """As OWASP's page on CSV injection lists their first characters; a number is none."""
    fields = [each for row in csv.reader(io.StringIO(write_csv([kept]).decode())) for each in row]
    for text in fields:
        assert not re.match(r"[=+\-@\t\r]", text) or re.fullmatch(r"-[0-9.]+", text)


class TestCertificates:
    DOCUMENT = "id,nominal,deviation,expanded_uncertainty,certificate,calibrated_on\n"

    def send(self, client: Client, rows: str, query: str = "") -> Response:
        address = f"{HALL}/certificate-imports?due_on=2029-03-01{query}"
        return client.post(address, content=(self.DOCUMENT + rows).encode(), headers=CSV)

    def test_its_blocks_get_what_it_states(self, client: Client) -> None:
        rows = "20,20,0.1,0.05,K-2,2027-02-10\nsaw/50,50,-0.2,0.06,K-2,2027-02-10\n"

        preview = self.send(client, rows, "&set=saw&preview=true").json()
        done = self.send(client, rows, "&set=saw")

        assert done.status_code == 200, done.text
        assert preview == {**done.json(), "applied": False}
        assert done.json()["changed"] == 2
        block = client.get(f"{HALL}/blocks/saw/20").json()
        assert (block["deviation"], block["expanded_uncertainty"]) == ("0.1", "0.05")
        assert block["calibration"]["due_on"] == "2029-03-01"
        assert (block["grade"], block["uses"]) == ("2", 3)

    def test_a_block_that_is_not_there_refuses_all_of_it(self, client: Client) -> None:
        rows = "saw/20,20,0.1,0.05,K-2,2027-02-10\nsaw/99,99,0.1,0.05,K-2,2027-02-10\n"

        refused = self.send(client, rows)

        assert refused.status_code == 422
        assert refused.json()["errors"][0]["pointer"] == "/blocks/1/id"
        assert client.get(f"{HALL}/blocks/saw/20").json()["deviation"] is None


class TestDue:
    def test_days_end_at_midnight_of_the_site(self, client: Client) -> None:
        (due,) = client.get(f"{HALL}/calibration-due").json()["due"]

        assert due == {
            "due_on": "2027-03-01",
            "overdue": True,
            "set": "saw",
            "certificate": "K-1",
            "blocks": ["saw/50"],
        }
        assert client.get(f"{HALL}/calibration-due?due_before=2027-03-01").json()["due"] == []
        overdue = client.get(f"{HALL}/blocks?overdue=true").json()["blocks"]
        assert [each["id"] for each in overdue] == ["saw/50"]

    @pytest.mark.parametrize(
        ("language", "summary"),
        [
            ("en", "Calibration due: saw, 1 gauge block, certificate K-1"),
            ("de", "Kalibrierung fällig: saw, 1 Endmaß, Schein K-1"),
        ],
    )
    def test_the_calendar_is_one(self, client: Client, language: str, summary: str) -> None:
        """As the package icalendar, an implementation of RFC 5545, reads it."""
        answer = client.get(f"{HALL}/calibration-due?calendar=true&language={language}")

        assert answer.headers["content-type"].startswith("text/calendar")
        events: list[Any] = [*Calendar.from_ical(answer.content).walk("VEVENT")]
        (event,) = events
        assert event["summary"] == summary
        assert event["dtstart"].dt == date(2027, 3, 1)
        assert event["dtend"].dt == date(2027, 3, 2)
        by_header = client.get(
            f"{HALL}/calibration-due?language={language}", headers={"Accept": "text/calendar"}
        )
        assert by_header.content == answer.content

    def test_a_calendar_has_a_component_where_nothing_is_due(self, client: Client) -> None:
        """RFC 5545, 3.6: or it is none, and programs may refuse to subscribe to it."""
        answer = client.get(f"{HALL}/calibration-due?calendar=true&due_before=2001-01-01")

        calendar = Calendar.from_ical(answer.content)
        assert calendar.subcomponents
        assert not calendar.walk("VEVENT")
