"""The drawing: its areas are the shares that they stand for, and it says them in words."""

import re
import xml.etree.ElementTree as ET
from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from svg_texts import misplaced
from wrung import InputError, coverage_of, inch, mm
from wrung.coverage import LengthGrid, NeededBlocks, Reach, Run
from wrung.coverage.picture import draw
from wrung.coverage.picture.columns import marks
from wrung.coverage.picture.wording import shades
from wrung.testing import make_blocks

SVG = "{http://www.w3.org/2000/svg}"
BOX = re.compile(r"M(?P<x>[\d.]+) (?P<y>[\d.]+)h(?P<width>[\d.]+)v(?P<height>[\d.]+)h-")
GAP = "#8c1c13"


def reach(fewest: bytes) -> Reach:
    """What the drawing needs of it."""
    counts = Counter(fewest)
    missing = counts.pop(0, 0)
    gap = Run(
        first=mm("1"),
        last=mm("2"),
        length_count=max(missing, 1),
        buildable=False,
        max_blocks_needed=0,
    )
    return Reach(
        fewest=fewest,
        buildable_count=len(fewest) - missing,
        histogram=tuple(
            NeededBlocks(block_count=b, length_count=n) for b, n in sorted(counts.items())
        ),
        runs=(),
        run_count=1,
        gaps=(gap,) if missing else (),
        gap_count=1 if missing else 0,
    )


def grid(points: int) -> LengthGrid:
    return LengthGrid(start=mm("1"), stop=mm("1") + (points - 1) * mm("0.001"), step=mm("0.001"))


def areas(drawing: str) -> dict[str, float]:
    """By fill, the area of its boxes in px²."""
    found: dict[str, float] = {}
    for path in ET.fromstring(drawing).iter(f"{SVG}path"):  # noqa: S314 -- our own text
        boxes = BOX.finditer(path.attrib["d"])
        area = sum(float(box["width"]) * float(box["height"]) for box in boxes)
        found[path.attrib["fill"]] = found.get(path.attrib["fill"], 0.0) + area
    return found


@given(fewest=st.binary(min_size=1, max_size=3000).map(lambda raw: bytes(n % 9 for n in raw)))
def test_the_area_of_a_shade_is_its_share_of_the_lengths(fewest: bytes) -> None:
    """Gaps are hatched, as large as their share; without gaps nothing has their colour."""
    found = reach(fewest)
    drawing = draw(grid(len(fewest)), found)
    by_fill = areas(drawing)
    bar = by_fill.pop(GAP, 0.0)
    whole = sum(by_fill.values())
    shown = dict.fromkeys(by_fill, 0.0)

    for shade in shades(found.histogram):
        shown[shade.colour] += shade.points / len(fewest)
    hatched = next((fill for fill in by_fill if fill.startswith("url(")), None)
    if hatched:
        shown[hatched] = (len(fewest) - found.buildable_count) / len(fewest)
    for fill, area in by_fill.items():
        assert area / whole == pytest.approx(shown[fill], abs=0.005)
    assert (bar > 0) == (hatched is not None) == (found.buildable_count < len(fewest))


@given(count=st.integers(0, 60))
def test_every_number_of_blocks_has_one_shade(count: int) -> None:
    histogram = [NeededBlocks(block_count=n * 2 + 1, length_count=n + 1) for n in range(count)]

    found = shades(histogram)

    assert len(found) == len({shade.colour for shade in found}) == min(count, 6)
    assert sum(shade.points for shade in found) == sum(each.length_count for each in histogram)
    for each in histogram:
        assert sum(s.fewest <= each.block_count <= s.most for s in found) == 1


def test_a_single_missing_length_among_many_thousands_is_marked() -> None:
    fewest = bytearray(b"\x03" * 200_000)
    fewest[123_456] = 0

    by_fill = areas(draw(grid(len(fewest)), reach(bytes(fewest))))

    assert by_fill[GAP] > 15  # px²: a mark of 4 by 4


def test_it_says_what_it_shows() -> None:
    found = coverage_of(
        make_blocks("1 2 4"), LengthGrid(start=mm("1"), stop=mm("9"), step=mm("0.5")), max_blocks=2
    )
    assert found.reach

    drawing = ET.fromstring(draw(found.grid, found.reach, max_blocks=2))  # noqa: S314 -- our own text

    words = [text.text for text in drawing.iter(f"{SVG}text")]
    assert drawing.attrib["role"] == "img"
    title, described = drawing.attrib["aria-labelledby"].split()
    named = {each.attrib["id"]: each.text for each in drawing if "id" in each.attrib}
    assert named[title] == "Coverage from 1 mm to 9 mm in steps of 0.5 mm"
    said = "6 of 17 lengths can be built with at most 2 blocks: 35.29 %."
    assert (named[described] or "").startswith(said)
    assert said in " ".join(filter(None, words))
    assert {"1 block: 3", "2 blocks: 3", "cannot be built: 11"} <= set(words)


def test_a_hundred_per_cent_are_all_and_nothing_but_all() -> None:
    nearly = bytearray(b"\x01" * 100_000)
    nearly[5] = 0

    assert ": 99.99 %" in draw(grid(len(nearly)), reach(bytes(nearly)))
    assert ": 100 %" in draw(grid(10), reach(b"\x01" * 10))


def test_it_speaks_german_and_inches() -> None:
    found = reach(b"\x01\x00\x02")
    wide = LengthGrid(start=inch("0.5"), stop=inch("1.5"), step=inch("0.5"))

    drawing = draw(wide, found, unit="in", language="de")

    assert "Abdeckung von 0,5 in bis 1,5 in in Schritten von 0,5 in" in drawing
    assert "nicht zu bilden: 1" in drawing
    with pytest.raises(InputError):
        draw(wide, found, language="tlh")


@given(
    first=st.integers(1, mm("1000")),
    span=st.integers(0, mm("1000")),
    inches=st.booleans(),
)
def test_marks_stand_at_round_lengths_and_are_few(first: int, span: int, *, inches: bool) -> None:
    found = marks(first, first + span, max(span, 1), "in" if inches else "mm")

    assert 1 <= len(found) <= 5
    assert all(first <= mark <= first + span for mark in found)
    steps = {after - before for before, after in pairwise(found)}
    assert len(steps) <= 1


def test_two_drawings_in_one_page_share_no_names() -> None:
    one, other = draw(grid(3), reach(b"\x01\x00\x02")), draw(grid(3), reach(b"\x01\x01\x02"))

    names = re.compile(r'id="([^"]+)"')
    assert set(names.findall(one)).isdisjoint(names.findall(other))


@given(
    fewest=st.binary(min_size=1, max_size=400).map(lambda raw: bytes(n % 9 for n in raw)),
    start=st.integers(1, mm("9000")),
    step=st.sampled_from(["0.0005", "0.001", "0.5", "1"]),
    language=st.sampled_from(["en", "de"]),
)
def test_words_are_neither_cut_nor_on_one_another(
    fewest: bytes, start: int, step: str, language: str
) -> None:
    """Whatever the range, the step and the language."""
    asked = LengthGrid(start=start, stop=start + (len(fewest) - 1) * mm(step), step=mm(step))
    drawing = ET.fromstring(draw(asked, reach(fewest), language=language))  # noqa: S314 -- our own text

    assert misplaced(drawing) == []
