"""The guide: it is served without anything from elsewhere, and its worked example is true."""

import json
import re
import xml.etree.ElementTree as ET
from html import escape, unescape
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import urljoin

import pytest

from service.bodies import problem_name
from service.conftest import Client
from svg_texts import misplaced
from wrung_service.api.guide.contents import PAGES, example_of, title_of
from wrung_service.api.kinds.examples import name_of
from wrung_service.api.kinds.wanted import KINDS

GUIDE = "".join(
    files("wrung_service").joinpath("guide", f"{page}.md").read_text(encoding="utf-8")
    for page in ("worked-budget", "decisions")
)
EXAMPLE = files("wrung_service.api").joinpath("examples", "stacks-sure-request.json")
DRAWINGS = Path(str(files("wrung_service").joinpath("guide", "drawings")))
ROW = re.compile(
    r"^\| (?P<kind>[a-z_]+) \| (?P<subject>[^|]+) \| [^|]+ \| (?P<sensitivity>[-0-9.]+) \| "
    r"(?P<nm>[0-9.]+) \|$",
    re.MULTILINE,
)


def answer(client: Client) -> dict[str, Any]:
    body = {**json.loads(EXAMPLE.read_bytes()), "budget": "table"}
    return dict(client.post("/v1/stacks", json=body).json()["stacks"][0])


def links_from(client: Client, start: str) -> list[str]:
    """Where the links of a page of the guide lead, and what it loads."""
    found = re.findall(r'(?:href|src)="([^"]+)"', client.get(start).text)
    return [urljoin(start, unescape(link)) for link in found]


def test_the_start_page_introduces_the_guide_and_leads_to_each_page(client: Client) -> None:
    redirect = client.get("/guide", follow_redirects=False)
    assert (redirect.status_code, redirect.headers["location"]) == (308, "guide/")

    start = client.get("/guide/").text

    assert {f"/guide/{page}" for page in PAGES} <= set(links_from(client, "/guide/"))
    assert start.index("machinists") < start.index("<ul")
    for page in PAGES:
        assert escape(title_of(page)) in start


@pytest.mark.parametrize("page", ["", *PAGES])
def test_no_link_is_dead_and_each_page_leads_back(client: Client, page: str) -> None:
    links = links_from(client, f"/guide/{page}")

    assert [link for link in links if client.get(link).status_code != 200] == []
    assert not page or links.count("/guide/") == 2


@pytest.mark.parametrize("drawing", sorted(DRAWINGS.glob("*.svg")), ids=lambda path: path.stem)
def test_no_word_of_a_drawing_is_cut_or_crossed(drawing: Path) -> None:
    """`solver/coverage/test_picture.py` does it for drawings of coverage, whose boxes touch."""
    root = ET.parse(drawing).getroot()  # noqa: S314 -- our own drawing

    assert misplaced(root, lines=drawing.stem != "coverage") == []


@pytest.mark.parametrize("page", ["lengths", *(name_of(kind).replace("_", "-") for kind in KINDS)])
def test_each_kind_shows_what_to_wring_before_the_json(client: Client, page: str) -> None:
    """A row for each stack of the example, or each target of angle blocks."""
    html = client.get(f"/guide/{page}").text
    found = example_of(page)
    assert found
    _, answer = found
    table = html[html.index('<table class="stacks">') : html.index("</table>")]

    assert html.index('<table class="stacks">') < html.index("<pre>")
    assert table.count("<tr>") == 1 + len(answer["stacks"] or answer["results"])
    for stack in answer["stacks"]:
        assert " + ".join(block["nominal"] for block in stack["blocks"]) in table


def test_a_page_is_html_with_its_tables_and_nothing_from_elsewhere(client: Client) -> None:
    page = client.get("/guide/metrology")

    assert page.headers["content-type"].startswith("text/html")
    assert "<table>" in page.text
    assert not re.search(r'(src|href)="(https?:)?//', page.text)
    assert "default-src 'none'" in page.headers["content-security-policy"]
    assert client.get("/guide/style.css").headers["content-type"].startswith("text/css")


@pytest.mark.parametrize("page", ["nothing", "metrology.md", "..%2Fsettings.py", "style"])
def test_there_is_no_other_page(client: Client, page: str) -> None:
    response = client.get(f"/guide/{page}")

    assert response.status_code == 404
    assert problem_name(response) == "not-found"


def test_a_browser_is_told_so_on_a_page(client: Client) -> None:
    """With a way back to what there is."""
    response = client.get("/guide/nothing", headers={"Accept": "text/html,*/*;q=0.8"})

    assert response.status_code == 404
    assert response.headers["content-type"].startswith("text/html")
    assert "default-src 'none'" in response.headers["content-security-policy"]
    assert "The guide has no such page." in response.text
    assert '<a href="./">' in response.text


def test_the_table_of_the_worked_example_is_what_the_service_says(client: Client) -> None:
    """Kind, subject, sensitivity and contribution of every row."""
    printed = [row.groupdict() for row in ROW.finditer(GUIDE)]
    table = answer(client)["budget"]["table"]

    assert [(row["kind"], row["subject"]) for row in printed] == [
        (row["kind"], row["subject"]) for row in table
    ]
    for row, found in zip(printed, table, strict=True):
        sensitivity = float(row["sensitivity"])
        assert sensitivity == pytest.approx(found["sensitivity"], abs=0.06)
        assert float(row["nm"]) == pytest.approx(abs(found["contribution"]), abs=0.051)


def test_the_totals_of_the_worked_example_are_what_the_service_says(client: Client) -> None:
    """As far as the guide prints them."""
    found = answer(client)
    budget, decision = found["budget"], found["decision"]

    assert "The offset is -0.752 µm" in GUIDE
    assert budget["offset"].startswith("-0.752")
    assert "standard uncertainty is 162 nm, the expanded one (k = 2) 324 nm" in GUIDE
    assert round(float(budget["standard_uncertainty"]), 3) == 0.162
    assert round(float(budget["corrected"]["expanded_uncertainty"]), 3) == 0.324
    assert "1.85 if the offset is not" in GUIDE
    assert decision["test_uncertainty_ratio"] == "1.85"


def test_the_decision_of_the_worked_example(client: Client) -> None:
    """Corrected, with the guard bands that the guide prints."""
    body = json.loads(EXAMPLE.read_bytes())
    body["part_tolerances"][0]["corrected"] = True

    decision = client.post("/v1/stacks", json=body).json()["stacks"][0]["decision"]

    assert "it is 6.17 corrected" in GUIDE
    assert decision["test_uncertainty_ratio"] == "6.17"
    assert "accept 25.29833 mm to 25.30167 mm" in GUIDE
    # Rounded inwards, as befits a zone of acceptance.
    assert 25.29832 < float(decision["acceptance_zone"]["lower"]) <= 25.29833
    assert 25.30167 <= float(decision["acceptance_zone"]["upper"]) < 25.30168
    assert float(decision["reject_below"]) == pytest.approx(25.29767, abs=1e-5)


def test_every_kind_of_target_has_a_page_with_its_drawing_request_and_results(
    client: Client,
) -> None:
    """The drawing is served by the service itself, and says in words what it shows."""
    for kind in KINDS:
        name = name_of(kind).replace("_", "-")
        page = client.get(f"/guide/{name}").text
        drawing = client.get(f"/guide/drawings/{name}.svg")

        assert f'src="drawings/{name}.svg"' in page
        assert f"&quot;{name_of(kind)}&quot;" in page
        assert "{{" not in page
        assert drawing.headers["content-type"].startswith("image/svg+xml")
        assert "<title" in drawing.text
        assert "<desc" in drawing.text
        assert "<script" not in drawing.text


def test_the_page_on_coverage_has_its_drawing_request_and_findings(client: Client) -> None:
    page = client.get("/guide/coverage").text
    drawing = client.get("/guide/drawings/coverage.svg")

    assert 'src="drawings/coverage.svg"' in page
    assert "&quot;max_blocks&quot;: 4" in page
    assert "&quot;gap_count&quot;" in page
    assert "&quot;best_pair_proven&quot;: true" in page
    assert "{{" not in page
    assert drawing.headers["content-type"].startswith("image/svg+xml")
    assert "<title" in drawing.text


def test_there_is_no_other_drawing(client: Client) -> None:
    for name in ("metrology.svg", "sine", "nothing.svg", "..%2Fstyle.css"):
        assert client.get(f"/guide/drawings/{name}").status_code == 404


def cells(page: str) -> list[list[str]]:
    """The rows of a page's tables, cell by cell."""
    text = files("wrung_service").joinpath("guide", page).read_text(encoding="utf-8")
    rows = [line.strip("| ").split(" | ") for line in text.splitlines() if line.startswith("|")]
    return [row for row in rows if row[0] != "---"]


def example(name: str) -> dict[str, Any]:
    """The documented answer, which tests hold to the service."""
    folder = files("wrung_service.api").joinpath("examples")
    return dict(json.loads(folder.joinpath(f"stacks-{name}-answer.json").read_bytes()))


def named(stack: dict[str, Any]) -> str:
    return ", ".join(block["id"] for block in stack["blocks"])


def test_the_alternatives_of_the_guide_are_those_of_the_example() -> None:
    """Rank, blocks, number and error of each."""
    answer = example("alternatives")
    (best,) = answer["stacks"]
    stacks = [("1, in `stacks`", best)]
    stacks += [(str(each["rank"]), each["stack"]) for each in answer["alternatives"]["stacks"]]

    for rank, stack in stacks:
        count = str(len(stack["blocks"]))
        assert [rank, named(stack), count, stack["worst_case_error"]] in cells("choices.md")


def test_the_trade_off_of_the_guide_is_that_of_the_example() -> None:
    """Blocks, error and stacks of each plan."""
    plans = example("trade-off")["trade_off"]["plans"]

    assert len(plans) == 3
    for plan in plans:
        figures = [str(plan["total_blocks"]), plan["largest_worst_case_error"]]
        assert [*figures, *map(named, plan["stacks"])] in cells("choices.md")
