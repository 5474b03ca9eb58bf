"""The page at ``/``: type, plan, see, mark what is not there, without any script."""

import re
import tomllib
from fractions import Fraction
from importlib.resources import files
from urllib.parse import parse_qsl, urlencode

import pytest
from litestar.testing import TestClient

from service.bench_pages import PAGE, SHELF, Reader, look
from service.conftest import Client
from wrung_service.app import create_app
from wrung_service.settings import Settings

pytestmark = pytest.mark.usefixtures("without_a_shelf")


def test_a_length_becomes_a_stack_with_its_error_and_what_is_proven(client: Client) -> None:
    page = look(client, ("unit", "in"), ("set", "A~inch-81~AS-1"), ("want", "1 3/8"))

    assert "reads 1.375 in = 34.925 mm" in page.texts
    assert {".125", ".250", "1"} <= set(page.texts)
    assert {"1.375 in", "Fewest blocks, least error: proven."} <= set(page.texts)


def test_a_block_that_is_not_there_is_in_no_stack_until_it_is_put_back(client: Client) -> None:
    question = (("unit", "in"), ("set", "A~inch-81~AS-1"), ("want", ".125"))
    assert "A/0.125" not in [v for n, v in look(client, *question).values if n == "gone"]

    marked = look(client, *question, ("not_there", "A/0.125"))
    again = look(client, *marked.values)
    back = look(client, *marked.values, ("back", "A/0.125"))

    for page in (marked, again):
        assert ("gone", "A/0.125") in page.values
        assert "put back" in page.texts
    assert ("gone", "A/0.125") not in back.values
    # Beside its row, and in the key to the case.
    assert back.texts.count("not there") == 2


def test_the_next_target_keeps_the_one_before_and_shares_no_block(client: Client) -> None:
    shelf = ("unit", "mm"), ("set", "M~metric-47-a~1")
    first = look(client, *shelf, ("want", "1.005"), ("next", "1"))
    second = look(client, *[p for p in first.values if p[0] != "want"], ("want", "1.005"))

    assert ("kept", "10~length~want=1.005") in first.values
    # One of the two has the only block of that length.
    assert {"stack for operation 10", "stack for operation 20"} & set(second.texts)
    assert {"No stack for operation 10", "No stack for operation 20"} & set(second.texts)


def test_what_cannot_be_built_says_why_and_what_helps(client: Client) -> None:
    page = look(client, ("unit", "in"), ("set", "A~inch-81~AS-1"), ("want", "1.86325"))

    assert {"take 1.8632 in", "take 1.8633 in"} <= set(page.texts)
    assert any("want=1.8632" in address for address in page.addresses)


def test_the_shelf_is_remembered_but_never_goes_before_the_address(client: Client) -> None:
    look(client, ("unit", "mm"), ("set", "Q~metric-47-a~1"), ("gone", "Q/1.005"))

    remembered, asked = look(client), look(client, ("set", "A~inch-81~AS-1"), ("unit", "in"))

    assert {("set", "Q~metric-47-a~1"), ("gone", "Q/1.005"), ("unit", "mm")} <= set(
        remembered.values
    )
    assert "Q/1.005" not in [value for _, value in asked.values]


@pytest.mark.parametrize(
    ("first", "read"),
    [("M~micrometer-10~1", "reads 5.1 mm"), ("metric-hall~inch-36~0", "reads 5.1 in")],
)
def test_the_unit_is_that_of_the_first_set_where_nothing_says_it(
    client: Client, first: str, read: str
) -> None:
    page = look(client, ("set", first), ("want", "5.1"))

    assert any(text.startswith(read) for text in page.texts)


def test_it_speaks_german(client: Client) -> None:
    page = look(
        client, ("lang", "de"), ("unit", "mm"), ("set", "M~metric-47-a~1"), ("want", "31,4")
    )

    assert {"Soll", "Rest", "Folge", "1,4"} <= set(page.texts)
    assert not {"wanted", "Left", "not there"} & set(page.texts)


def test_it_speaks_as_the_browser_does_unless_the_address_says(client: Client) -> None:
    """And its own addresses say so only where somebody chose the other language."""
    told = {"Accept": "text/html", "Accept-Language": "de"}

    german = client.get("/", headers=told).text
    english = client.get("/?lang=en", headers=told).text

    assert '<html lang="de"' in german
    assert '<html lang="en"' in english
    assert 'name="lang"' not in german
    assert 'name="lang" value="en"' in english
    assert "?unit=in&amp;lang=en" in german


def test_words_are_there_in_both_languages_with_the_same_places() -> None:
    english, german = (
        tomllib.loads(files("wrung_service").joinpath("pages", "bench", f"{each}.toml").read_text())
        for each in ("en", "de")
    )
    places = {
        language: {key: sorted(re.findall("{.*?}", text)) for key, text in words["words"].items()}
        for language, words in (("en", english), ("de", german))
    }

    assert places["en"] == places["de"]


def test_pages_ask_nothing_of_anybody_else_and_run_no_script_in_line(client: Client) -> None:
    response = client.get("/?want=1.5", headers=PAGE)

    page = Reader(response.text)
    assert "script-src 'self'" in response.headers["content-security-policy"]
    assert not [a for a in page.addresses if re.match(r"[a-z]+:|//", a)]
    assert not re.search(r"<script(?![^>]*src)|\sstyle=|\son[a-z]+=", response.text)


@pytest.mark.parametrize(
    "pairs",
    [
        [("set", "x"), ("kind", "nothing"), ("want", "1")],
        [("set", "A~no-such-set~1"), ("want", "1")],
        [("set", "A~inch-81~no-grade"), ("want", "1"), ("gone", "B/7")],
        [("gone", "A/0.1004"), ("gone", "A/0.1004"), ("gone", "A/99"), ("want", "1")],
        [("want", "<script>alert(1)</script>")],
        [("f.nominal", "x"), ("kind", "fit")],
        [("kept", "~length~want=1"), ("kept", "7~length~want=1"), ("kept", "7~length~want=2")],
        [("set", "A\0~inch-81~1"), ("set", "B~inch-81~1"), ("set", "B~inch-36~1"), ("want", "1")],
        [("gone", "A/x"), ("gone", "A/9999999999999"), ("want", "1")],
        [("first", "x"), ("wear", "x"), ("timing", "x"), ("unit", "x"), ("lang", "x")],
    ],
)
def test_an_address_that_makes_no_sense_is_a_page_all_the_same(
    client: Client, pairs: list[tuple[str, str]]
) -> None:
    response = client.get(f"/?{urlencode(pairs)}", headers=PAGE)

    assert response.status_code == 200
    assert "<script>alert" not in response.text
    # Whatever it left out, it has an answer to the rest.
    known = any("no-" in value or value == "x" for name, value in pairs if name == "set")
    assert known or 'role="alert"><p><strong>' not in response.text


def test_a_refusal_says_of_what_it_speaks_and_in_which_language(client: Client) -> None:
    part = "/bench/answer?unit=mm&kind=general_tolerance&f.nominal=0&f.general_class=m"

    assert (
        "10, nominal size: ISO 2768-1 gives class m no deviation for 0 mm." in client.get(part).text
    )
    assert "10, Nennmaß: ISO 2768-1 hat in Klasse m kein" in client.get(f"{part}&lang=de").text


def test_programs_still_get_links(client: Client) -> None:
    assert client.get("/").json()["links"]
    assert client.get("/?want=1").status_code == 400


def test_the_part_that_changes_is_there_by_itself_for_the_script(client: Client) -> None:
    part = client.get("/bench/answer?unit=in&want=.125", headers=PAGE).text

    assert "<html" not in part
    assert "stack for operation 10" in part


def test_a_block_that_is_not_there_says_what_it_costs_only_where_it_costs(client: Client) -> None:
    def told(*gone: str) -> str:
        pairs = (("gone", each) for each in gone)
        return " ".join(look(client, *SHELF, ("want", ".3"), *pairs).texts)

    assert re.search(r"\.300 not there: 1 block more and \S+ µin more\.", told("A/0.3"))
    assert "not there:" not in told("A/4")
    alone = look(client, *SHELF, ("want", ".125"), ("gone", "A/0.125")).texts
    # Two blocks of the set are together longer (ASME B89.1.9: the thinnest are .05 and .1).
    assert ".125 not there: with it there would be a stack." in alone


def test_one_block_needs_no_wringing(client: Client) -> None:
    assert "One block, nothing to wring." in look(client, *SHELF, ("want", ".125")).texts


def test_what_cannot_be_built_to_the_letter_is_allowed_in_one_tap(client: Client) -> None:
    def allowing(*pairs: tuple[str, str]) -> str:
        return next(a for a in look(client, *SHELF, *pairs).addresses if "%C2%B1" in a)

    typed = parse_qsl(allowing(("want", "1.86325")).removeprefix("?"))
    page = look(client, *typed)

    assert ("want", "1.86325 ±0.00005") in typed
    assert any("± 0.00005 in allowed" in text for text in page.texts)
    assert {"1.8632 in", "1.8633 in"} & set(page.texts)
    # In its own unit, and for a target that was kept.
    kept = parse_qsl(allowing(("kept", "7~length~want=31.40001 mm"), ("want", "1")))
    name, want = next(v.split("~length~want=") for n, v in kept if n == "kept")
    assert (name, want.partition(" ±")[0]) == ("7", "31.40001 mm")
    # Nobody who wants 31.4 in would take what the set can build.
    far = look(client, *SHELF, ("want", "31.4"))
    assert not [each for each in far.addresses if "%C2%B1" in each]


def test_what_may_have_been_meant_is_offered(client: Client) -> None:
    both = ("unit", "in"), ("set", "A~inch-36~0"), ("set", "M~metric-47-a~1")
    assert any("want=31%2C4+mm" in a for a in look(client, *both, ("want", "31,4")).addresses)
    assert not any("+mm" in a for a in look(client, *both, ("want", "1,4")).addresses)
    angle = look(client, *SHELF, ("want", "12°30'")).addresses
    for kind in ("sine", "angle_blocks"):
        meant = [each for each in angle if f"kind={kind}&" in each]
        assert any("f.angle=12%C2%B030%27" in each for each in meant)


def test_an_operator_may_allow_short_searches_only() -> None:
    app = create_app(Settings(solve_workers=1, default_time_limit_ms=1900, max_time_limit_ms=1900))
    with TestClient(app.edge) as client:
        for search in ("brief", "usual", "longer"):
            pairs = (*SHELF, ("want", "1.3805"), ("search", search))
            page = look(client, *pairs)
            # A machine that stands still finds nothing in a brief one.
            assert search == "brief" or "1.3805 in" in page.texts
            assert not {"search 10 s more", "search 1.9 s more"} & set(page.texts)


def test_the_next_best_is_used_as_it_was_shown(client: Client) -> None:
    part = client.get(f"/bench/more?{urlencode([*SHELF, ('want', '1.3')])}", headers=PAGE).text
    chosen = re.findall(r'name="use" value="([^"]+)"', part)

    assert "next best" in part
    assert chosen
    for each in chosen:
        page = look(client, *SHELF, ("want", "1.3"), ("use", each))
        used = client.get(
            f"/bench/answer?{urlencode([*SHELF, ('want', '1.3'), ('use', each)])}", headers=PAGE
        ).text
        assert "Chosen by you." in " ".join(page.texts)
        assert set(re.findall(r'name="not_there" value="([^"]+)"', used)) == set(each.split("~"))


def test_the_next_best_names_the_unit_of_a_block_that_the_page_has_not(client: Client) -> None:
    sets = (("unit", "mm"), ("set", "A~metric-47-a~0"), ("set", "B~inch-36~0"))
    part = client.get(f"/bench/more?{urlencode([*sets, ('want', '12.345')])}", headers=PAGE).text
    lines = re.findall(r"<li><span><b>(.*?)</b>", re.sub(r" <small>\w+</small>", "", part))

    assert " in " in lines[0]
    for line in lines:
        blocks = [block.partition(" ") for block in line.split(" + ")]
        millimetres = {"in": Fraction("25.4"), "": Fraction(1)}
        total = sum(Fraction(size) * millimetres[unit] for size, _, unit in blocks)
        assert total == Fraction("12.345")


def test_what_one_more_block_buys_is_a_plot_and_a_table_of_the_same_figures(client: Client) -> None:
    sets = (("set", "A~inch-81~AS-2"), ("set", "B~inch-36~0"))
    part = client.get(f"/bench/more?{urlencode([*sets, ('want', '3.4482')])}", headers=PAGE).text
    wanted = [each.split("~") for _, each in sets]
    body = {
        "unit": "in",
        "sets": [{"id": i, "composition": c, "grade": g} for i, c, g in wanted],
        "targets": [{"ref": "a", "length": "3.4482", "kind": "length"}],
        "trade_off": True,
    }
    plans = client.post("/v1/stacks", json=body).json()["trade_off"]["plans"]

    assert len(plans) > 1
    for plan in plans:
        # In the plot, and in the table beside it.
        assert part.count(f"± {plan['largest_worst_case_error']}") >= 2
    assert "as a table" in part


def test_the_next_best_names_sets_where_there_are_several(client: Client) -> None:
    def sets_of(*pairs: tuple[str, str]) -> set[str]:
        shown = client.get(f"/bench/more?{urlencode([('want', '1.3'), *pairs])}", headers=PAGE)
        assert "next best" in shown.text
        return set(re.findall(r"<small>(\w+)</small>", shown.text))

    assert sets_of(*SHELF) == set()
    assert sets_of(*SHELF, ("set", "B~inch-81~AS-1")) <= {"A", "B"}
    assert sets_of(*SHELF, ("set", "B~inch-81~AS-1"))
    assert sets_of(*SHELF, ("set", "B~inch-81~AS-1"), ("gone", "A/0.3")) == {"A", "B"}


def test_with_script_the_stack_comes_without_waiting_for_more(client: Client) -> None:
    whole = client.get(f"/?{urlencode([*SHELF, ('want', '1.3')])}", headers=PAGE).text
    first = client.get(f"/bench/answer?{urlencode([*SHELF, ('want', '1.3')])}", headers=PAGE).text

    assert "next best" in whole
    assert "next best" not in first


def test_as_long_as_nobody_said_what_lies_there_two_sets_are_offered(client: Client) -> None:
    new, said = look(client), look(client, *SHELF)
    again = look(client)

    assert "what lies on the bench?" in new.texts
    offered = [each for each in new.addresses if "metric-88-1" in each]
    assert offered
    assert "what lies on the bench?" not in said.texts
    assert ("set", "A~inch-81~AS-1") in again.values


def test_wear_blocks_have_a_row_of_their_own_and_can_be_missing(client: Client) -> None:
    offer = next(
        each for each in look(client, *SHELF, ("want", "1.4")).addresses if "wear=both" in each
    )
    carried = [("unit", "in"), ("set", "A~inch-81~AS-1~0.05~0.05"), ("wear", "both")]
    page = look(client, *carried, ("want", "1.4"))
    without = look(client, *carried, ("want", "1.4"), ("gone", "A/0.05#2"))

    assert "A%7Einch-81%7EAS-1%7E0.05%7E0.05" in offer or "A~inch-81~AS-1~0.05~0.05" in offer
    assert "1.4 in" in page.texts
    assert page.texts.count(".050") > look(client, *SHELF, ("want", "1.4")).texts.count(".050")
    # One wear block is left, and both ends are to carry one.
    assert any(each.startswith("No stack") for each in without.texts)


def test_of_two_that_cannot_stand_together_it_says_so_and_offers_in_turn(client: Client) -> None:
    kept = (("kept", "10~length~want=1.005"), ("kept", "20~length~want=1.005"))
    page = look(client, ("unit", "mm"), ("set", "M~metric-47-a~1"), *kept)
    turned = look(client, ("unit", "mm"), ("set", "M~metric-47-a~1"), *kept, ("timing", "in_turn"))

    assert "Not all at one time: 10, 20." in page.texts
    assert any("timing=in_turn" in each for each in page.addresses)
    assert {"stack for operation 10", "stack for operation 20"} <= set(turned.texts)


def test_a_block_that_would_help_is_added_to_the_shelf_in_one_tap(client: Client) -> None:
    pairs = ("unit", "mm"), ("set", "M~metric-47-a~1"), ("want", "1.0005")
    offer = next(a for a in look(client, *pairs).addresses if "borrowed-mm" in a)

    assert "blocks-mm" in offer
    borrowed = parse_qsl(offer.removeprefix("?"))
    assert "1.0005 mm" in look(client, *borrowed).texts
