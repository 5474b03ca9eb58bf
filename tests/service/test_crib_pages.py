"""The pages of the tool crib: what is where, forms without any script, keys, and sites apart."""

import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest
from httpx import Response
from litestar.testing import TestClient

from service.crib_reader import HALL, OWN, PAGE, Client, Reader, do, look, send
from store.rows import Clock, add_block, add_plan, add_promise, hours
from svg_texts import misplaced
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store


def test_the_sites_and_one_of_them_in_german(crib: Client) -> None:
    assert "north-hall" in look(crib, "/crib").texts
    assert "Kasten bench, wie er liegt" in look(crib, f"{PAGE}?lang=de").texts
    assert crib.cookies["lang"] == "de"
    assert "was unterwegs ist" in look(crib).texts
    crib.cookies.clear()
    assert "was unterwegs ist" in look(crib, **{"Accept-Language": "de"}).texts


def test_each_block_lies_in_its_place_with_its_state(crib: Client) -> None:
    do(crib, "condition-changes", blocks=["bench/1.001"], condition="missing")
    do(crib, "condition-changes", blocks=["bench/1.002"], condition="damaged")
    do(crib, "condition-changes", blocks=["bench/1.003"], condition="at_calibration")
    do(crib, "condition-changes", blocks=["bench/1.004"], condition="retired")
    do(crib, "issues", blocks=["bench/1.005"], borrower="Kim", due_at="2027-03-01T14:30:00Z")
    lines = "id,certificate,due_on\nbench/1.006,K-1,2027-02-01\n"
    sent = crib.post(
        f"{HALL}/inventory-imports", content=lines, headers={"Content-Type": "text/csv"}
    )
    assert sent.status_code == 200

    cells = look(crib).cells

    # Of 88 places one was never filled.
    assert len(cells) == 87
    assert cells["1.001"] == "not there"
    assert cells["1.002"] == "worn or damaged"
    assert cells["1.003"] == "at calibration"
    assert cells["1.004"] == "retired"
    # Summer time has not begun: Berlin is an hour ahead.
    assert cells["1.005"] == "lent, Kim, until 15:30"
    assert cells["1.006"] == "calibration is overdue"
    assert cells["1.007"] == "there"


def test_a_wear_block_says_so_and_lies_in_no_place_of_a_gauge_block(crib: Client) -> None:
    worn = {
        "composition": "metric-88",
        "grade": "1",
        "missing": ["2"],
        "wear_block_nominals": ["2"],
    }
    assert crib.put(f"{HALL}/sets/worn", json=worn).status_code == 201

    page = look(crib, f"{PAGE}?set=worn")

    assert [said for said in page.cells.values() if said != "there"] == ["wear block, there"]
    assert "not in this set" in page.texts, "the gauge block of that length"


def test_what_is_out_comes_back_by_one_button(crib: Client, clock: Clock) -> None:
    do(crib, "issues", blocks=["bench/1.005", "bench/1.006"], borrower="Kim")
    do(crib, "condition-changes", blocks=["bench/1.001"], condition="missing")
    clock.now = hours(1)

    back, found, _ = look(crib).forms
    assert ("block", "bench/1.005") in back[1]
    assert ("block", "bench/1.006") in back[1]
    for form in (back, found):
        done = send(crib, form)
        assert (done.status_code, done.headers["location"]) == (303, f"{PAGE}?set=bench")

    page = look(crib)
    assert "Nothing is out." in page.texts
    assert set(page.cells.values()) == {"there"}
    block = crib.get(f"{HALL}/blocks/bench/1.005").json()
    assert (block["uses"], block["minutes_out"]) == (1, 60)
    # Whoever presses twice is told, and nothing is counted twice.
    again = send(crib, back)
    assert again.status_code == 409
    assert "is not out" in again.text


@pytest.mark.parametrize(
    ("form", "fields", "english", "german"),
    [
        ("issues", {"block": " "}, "block: scan or type one first", "Endmaß: bitte zuerst"),
        (
            "issues",
            {"block": "bench/1.005", "due_at": "1/6"},
            "until: must be a time such as 2027-06-01 14:30, the year first",
            "bis: muss eine Zeit sein, wie 2027-06-01 14:30, das Jahr zuerst",
        ),
        (
            "issues",
            {"block": "bench/1.005", "borrower": "x" * 129},
            "give out to: must be a string of at most 128 characters",
            "ausgeben an: muss Text mit höchstens 128 Zeichen sein",
        ),
        ("returns", {"block": "a b"}, "block: must be of letters", "Endmaß: muss aus den Buchst"),
        (
            "condition-changes",
            {"block": "bench/1.005", "condition": ""},
            "condition: must be one of fit,",
            "Zustand: muss einer dieser Werte sein: fit,",
        ),
        ("issues", {"block": "bench/1.00"}, "are bench/1.009,", "kommen bench/1.009,"),
    ],
)
def test_what_is_wrong_in_a_form_is_said_of_its_field(
    crib: Client, form: str, fields: dict[str, str], english: str, german: str
) -> None:
    for language, words in (("en", english), ("de", german)):
        crib.cookies.set("lang", language)
        refused = send(crib, (f"{PAGE}/{form}", list(fields.items())))
        assert refused.is_client_error
        (said,) = Reader(refused.text).texts_with(words)
        assert "`" not in said
        assert "$" not in said


def test_a_day_in_a_cell_cannot_be_taken_for_another(crib: Client) -> None:
    """Whether 1/6 is in January or in June depends on who reads it."""
    do(crib, "issues", blocks=["bench/1.005"], borrower="Kim", due_at="2027-06-01T12:00:00Z")

    assert "1 June" in look(crib).texts
    assert "1.6." in look(crib, f"{PAGE}?lang=de").texts


def test_a_length_of_a_range_that_is_not_typed_is_missing(crib: Client) -> None:
    shown = crib.get(f"{PAGE}/coverage?start=1&stop=&step=1", headers={"Accept": "text/html"})

    assert shown.status_code == 400
    assert "to: is missing" in Reader(shown.text).texts


def test_blocks_go_out_by_a_scan_of_their_ids(crib: Client) -> None:
    fields = [("set", "bench"), ("block", "bench/1.005 \t bench/1.006"), ("borrower", "Kim")]
    # The clock at the site shows it: Berlin, where summer time has begun by then.
    done = send(crib, (f"{PAGE}/issues", [*fields, ("due_at", "2027-03-29T12:00")]))
    assert (done.status_code, done.headers["location"]) == (303, f"{PAGE}?set=bench")
    assert look(crib).cells["1.005"] == "lent, Kim, until Mon 29 Mar 2027, 12:00"

    def refused(block: str, due_at: str = "", **headers: str) -> Response:
        form = [("block", block), ("borrower", ""), ("due_at", due_at)]
        return send(crib, (f"{PAGE}/issues", form), **headers)

    assert refused("bench/1.005").status_code == 409
    assert refused("bench/1.007 bench/1.007").status_code == 422
    assert refused("bench/1.007", "2027-02-30T12:00").status_code == 400
    assert refused("bench/1.007", "2027-03-29T12:00Z").status_code == 400
    assert refused("bench/1.007", **{"Sec-Fetch-Site": "cross-site"}).status_code == 403
    crib.get(f"{PAGE}?lang=de")
    assert "liegt in der Vergangenheit" in refused("bench/1.007", "2027-02-20T12:00").text


def test_a_form_of_another_site_changes_nothing(crib: Client) -> None:
    do(crib, "condition-changes", blocks=["bench/1.001"], condition="missing")
    form = look(crib).forms[0]

    for headers in (
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": "https://testserver.local.elsewhere.example"},
        {"X-Nothing": "said"},
    ):
        assert send(crib, form, **headers).status_code == 403, headers
    assert crib.get(f"{HALL}/blocks/bench/1.001").json()["condition"] == "missing"
    # Over plain HTTP to another machine browsers send nothing but the origin.
    assert send(crib, form, Origin="http://testserver.local").status_code == 303


def test_what_no_form_sends_is_refused(crib: Client) -> None:
    path = f"{PAGE}/condition-changes"
    for fields in (
        [("block", "bench/1.001"), ("condition", "lost")],
        [("condition", "fit")],
        [("block", "\0"), ("condition", "fit")],
        [("block", "bench/1.001"), ("condition", "fit"), ("reason", "\0")],
    ):
        assert send(crib, (path, fields)).status_code == 400, fields
    unknown = send(crib, (path, [("block", "bench/9.999"), ("condition", "fit")]))
    assert unknown.status_code == 404
    assert crib.post(path, json={}, headers=OWN).status_code == 415
    for shift in ("2027-02-30T06", "9999-12-31T22", "2200-12-31T22", "2000-01-01T00", "x"):
        assert look(crib, f"{PAGE}?shift={shift}")
    for query in ("set=%00", "set=none"):
        assert look(crib, f"{PAGE}?{query}")


@pytest.fixture
def busy(crib: Client, store: Store) -> Client:
    """A day on which three plans have two blocks, one of them done early, and one given up."""
    with store.writing() as c:
        for name in ("a", "b"):
            add_block(c, name, nominal=500_000_000)
        add_plan(c, "p10", operation="10", starts_at=hours(-1.5), ends_at=hours(-0.5), state="done")
        add_plan(c, "p20", operation="20", starts_at=hours(-0.25), ends_at=hours(1))
        add_plan(c, "p30", operation="30", starts_at=hours(2), ends_at=hours(4))
        add_plan(c, "p40", operation="40", starts_at=hours(3), ends_at=hours(4), state="cancelled")
        add_promise(c, "p10", "a", (-1.5, -0.5))
        add_promise(c, "p20", "a", (-0.25, 1))
        add_promise(c, "p30", "a", (2, 4))
        add_promise(c, "p30", "b", (2, 4))
    return crib


WORDED = {"bar", "ink", "on-ink"}


def bars(crib: Client, path: str = PAGE) -> list[tuple[str, str]]:
    """Kind and figure of each bar of the wide drawing."""
    html = crib.get(path).text
    drawing = ET.fromstring(html[html.index("<svg") : html.index("</svg>") + 6])  # noqa: S314 - our own
    assert misplaced(drawing) == []
    parts = [e for e in drawing if e.get("class", "").partition(" ")[0] in WORDED]
    found: list[tuple[str, str]] = []
    for bar, text in pairwise(parts):
        if bar.get("class", "").startswith("bar") and bar.get("stroke") != "none":
            found.append((bar.get("class", "").removeprefix("bar "), text.text or ""))
    return found


def test_the_timeline_says_which_block_is_where(busy: Client) -> None:
    assert bars(busy) == [
        ("used", "10"),
        ("now", "20"),
        ("promised", "30"),
        ("promised", "30"),
    ]
    page = look(busy, f"{PAGE}?set=")
    assert page.cells == {"a": "in a stack now 20", "b": "there"}
    assert {
        "in a stack now, operation 20, job 4711",
        "promised, operation 30, job 4711",
    } <= set(page.texts)
    assert "blocks over the shift, Mon 1 Mar 2027, 6:00 to 14:00" in page.texts
    night = look(busy, f"{PAGE}?shift=2027-02-28T22")
    assert "Nobody has a block in this shift." in night.texts


def test_a_loan_that_is_late_clashes_with_the_next_plan(busy: Client, clock: Clock) -> None:
    do(busy, "issues", blocks=["a"])
    clock.now = hours(2.5)

    assert ("now clash", "clash") in [(kind, text.split()[0]) for kind, text in bars(busy)]


def test_a_loan_that_should_be_back_is_late_and_not_until_now(busy: Client, clock: Clock) -> None:
    do(busy, "issues", blocks=["b"], borrower="Kim", due_at=hours(1).isoformat())
    clock.now = hours(3)

    assert ("lent", "lent: Kim, late") in bars(busy)


class TestImport:
    CSV = "id,serial,grade\nbench/1.005,77-1,0\nbench/1.006,,1\n"

    def send(self, crib: Client, csv: str, seen: str = "", **headers: str) -> Response:
        return crib.post(
            f"{PAGE}/import",
            files={"csv": (None, csv), "seen": (None, seen)},
            headers=headers or OWN,
            follow_redirects=False,
        )

    def seen(self, page: Reader) -> str:
        return next(value for _, fields in page.forms for name, value in fields if name == "seen")

    def test_what_would_change_is_shown_before_one_button_changes_it(self, crib: Client) -> None:
        shown = self.send(crib, self.CSV)
        assert shown.status_code == 200, shown.text
        page = Reader(shown.text)
        start = page.texts.index("bench/1.005")
        assert page.texts[start : start + 4] == ["bench/1.005", "grade", "1", "0"]
        before, after = shown.text.split("<h3>after</h3>")
        assert before.count("cell there changed") == after.count("cell there changed") == 1
        assert before.count("cell never") == after.count("cell never") == 1
        assert "77-1" in page.texts
        assert crib.get(f"{HALL}/blocks/bench/1.005").json()["serial"] is None

        done = self.send(crib, self.CSV, self.seen(page))

        assert (done.status_code, done.headers["location"]) == (303, f"{PAGE}?set=bench")
        assert crib.get(f"{HALL}/blocks/bench/1.005").json()["serial"] == "77-1"
        assert "Nothing would change." in self.send(crib, self.CSV).text

    def test_whoever_saw_something_else_looks_again(self, crib: Client) -> None:
        seen = self.seen(Reader(self.send(crib, self.CSV).text))
        do(crib, "condition-changes", blocks=["bench/1.005"], condition="damaged")
        other = self.CSV.replace("77-1", "78-2")

        again = self.send(crib, other, seen)

        assert again.status_code == 200
        assert "changed since you looked" in again.text
        assert crib.get(f"{HALL}/blocks/bench/1.005").json()["serial"] is None

    def test_a_file_does_as_well(self, crib: Client) -> None:
        sent = crib.post(
            f"{PAGE}/import", files={"file": ("shelf.csv", self.CSV.encode())}, headers=OWN
        )
        assert "77-1" in Reader(sent.text).texts

    def test_what_cannot_be_read_is_said_with_its_line(self, crib: Client) -> None:
        wrong = self.send(crib, "id,nominal\nbench/1.005,long\n")
        assert wrong.status_code == 422
        assert "line 2, nominal" in wrong.text
        assert "bench/1.005,long" in wrong.text
        assert self.send(crib, "").status_code == 422
        assert self.send(crib, self.CSV, **{"Sec-Fetch-Site": "cross-site"}).status_code == 403


def test_what_a_site_can_build_is_drawn_and_listed(crib: Client) -> None:
    form = look(crib, f"{PAGE}/coverage").forms[0]
    german = look(crib, f"{PAGE}/coverage?lang=de").forms[0]
    assert ("step", "0,005") in german[1]
    crib.cookies.clear()
    assert dict(form[1]) == {"start": "1", "stop": "100", "step": "0.005"}

    page = look(crib, f"{PAGE}/coverage?set=bench&unit=mm&start=1&stop=3&step=0,01")

    # 1.49 was never put in, and two blocks are 2 mm long at least, or nearly so.
    assert "cannot be built" in page.texts
    assert "as a table" in page.texts
    refused = crib.get(f"{PAGE}/coverage?lang=de&start=3&stop=2&step=1")
    assert refused.status_code == 422
    assert "bis: ist kleiner als der Anfang" in Reader(refused.text).texts
    assert 'value="2"' in refused.text


def test_the_page_to_type_into_leads_here_where_there_is_a_crib(crib: Client) -> None:
    page = {"Accept": "text/html"}
    assert "crib" in Reader(crib.get("/", headers=page).text).addresses
    with TestClient(create_app(Settings(solve_workers=1)).edge) as without:
        assert "crib" not in Reader(without.get("/", headers=page).text).addresses


def test_without_a_store_there_is_no_crib_to_look_at() -> None:
    with TestClient(create_app(Settings(solve_workers=1)).edge) as client:
        refused = client.get("/crib")
    assert refused.status_code == 404
    assert "keeps no crib" in refused.text
