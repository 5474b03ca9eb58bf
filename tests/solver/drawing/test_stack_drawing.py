"""The drawing of a stack says what the stack is: every row, and a sum that ends in nought."""

import xml.etree.ElementTree as ET
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from svg_texts import misplaced
from wrung import Block, LengthTarget, PlacedBlock, Stack, inch, mm, solve, to_text
from wrung.stack_drawing import Drawing, DrawnBlock, StackDrawing, draw_stack, drawn
from wrung.stack_drawing.scale import heights

SVG = "{http://www.w3.org/2000/svg}"


def stack(*blocks: tuple[str, int], wear: int = 0, unit: str = "mm") -> Stack:
    """A stack in wringing order; the last ``wear`` blocks are wear blocks."""
    placed = tuple(
        PlacedBlock(
            id=name,
            nominal=nominal,
            role="wear" if place >= len(blocks) - wear else "gauge",
            unit="in" if unit == "in" else "mm",
        )
        for place, (name, nominal) in enumerate(blocks)
    )
    total = sum(nominal for _, nominal in blocks)
    return Stack(
        target="x", role=None, length=total, nominal=total, joints=len(blocks) - 1, blocks=placed,
        deviation=0, worst_case_error=0,
    )  # fmt: skip


def texts(svg: str, name: str) -> list[str]:
    """The texts of a class, in the order of the document."""
    root = ET.fromstring(svg)  # noqa: S314 -- our own text
    return [e.text or "" for e in root.iter(f"{SVG}text") if e.get("class") == name]


def test_the_paper_sum_from_the_top_ends_in_nought_at_the_plate() -> None:
    """By hand: 58.975 less 2, 1.005, 1.47, 52.5 and 2."""
    shown = drawn(
        stack(
            ("a", mm("52.5")), ("b", mm("1.47")), ("c", mm("1.005")),
            ("w1", mm("2")), ("w2", mm("2")), wear=2,
        ),
        [],
    )  # fmt: skip

    assert [to_text(left, "mm") for left in shown.left] == ["56.975", "55.97", "54.5", "2", "0"]
    assert [block.order for block in shown.blocks] == [5, 1, 2, 3, 4]
    figures = texts(draw_stack(shown), "figure")
    assert figures[-2:] == ["2", "0.000"]
    assert figures.count("58.975") == 2  # as the dimension, and over the column


def test_figures_are_as_engraved_in_the_language_of_the_reader() -> None:
    """Common practice, no source: an inch block of less than 1 in has no nought."""
    inches = drawn(stack(("a", inch("0.85")), ("b", inch("0.1002")), unit="in"), [], unit="in")
    metric = drawn(stack(("a", mm("50")), ("b", mm("1.005"))), [])

    assert {".850", ".1002", "0.8500"} <= set(texts(draw_stack(inches, language="de"), "figure"))
    assert {"1,005", "50,000"} <= set(texts(draw_stack(metric, language="de"), "figure"))
    assert {"1.005", "50.000"} <= set(texts(draw_stack(metric), "figure"))


def test_an_inch_block_among_metric_ones_is_converted_exactly_and_named() -> None:
    shelf = [
        Block(id="a", nominal=mm("50"), limit_deviation=0, set="M"),
        Block(id="b", nominal=inch("0.1005"), limit_deviation=0, unit="in", set="K", serial="77"),
    ]
    (made,) = solve(shelf, [LengthTarget(ref="x", length=mm("52.5527"))]).stacks

    drawing = draw_stack(drawn(made, shelf))

    assert "in K 77" in texts(drawing, "label")
    assert "50.0000" in texts(drawing, "figure")


def test_a_long_name_of_a_set_takes_no_room_from_blocks_and_figures() -> None:
    name = "set-of-the-north-hall-by-the-second-door"
    blocks = [
        DrawnBlock(
            order=order, nominal=mm(size), unit="mm", is_wear_block=False, origin=f"{name}-{order}"
        )
        for order, size in enumerate(("40", "1.37", "1.005"), start=1)
    ]
    shown = StackDrawing(
        length=mm("42.375"), nominal=mm("42.375"), deviation=0, unit="mm", blocks=tuple(blocks)
    )

    made = Drawing(shown, language="en", pitch=52)

    assert made.is_legible
    drawing = ET.fromstring(made.svg())  # noqa: S314 -- our own text
    assert all(float(each.get("width") or 0) > 0 for each in drawing.iter(f"{SVG}rect"))
    assert min(float(each.get("font-size") or 0) for each in drawing.iter(f"{SVG}text")) >= 8
    # Its end tells one set from the other.
    ends = {label[-2:] for label in texts(made.svg(), "label") if ".." in label}
    assert ends == {"-1", "-2", "-3"}


def test_what_the_column_leaves_out_is_said_below_it() -> None:
    shown = StackDrawing(
        length=mm("10"),
        nominal=mm("10.002"),
        deviation=-12_000,
        unit="mm",
        blocks=(
            DrawnBlock(order=1, nominal=mm("10.002"), unit="mm", is_wear_block=False, origin=""),
        ),
    )

    said = " ".join(texts(draw_stack(shown), "label"))

    assert "wanted 10 mm: the stack is +2\u00a0µm off" in said
    assert "certified: \u22120.12\u00a0µm in all" in said


def test_it_says_every_row_to_those_who_do_not_see_it_and_has_no_style() -> None:
    svg = draw_stack(drawn(stack(("a", mm("50")), ("b", mm("1.005"))), []))

    root = ET.fromstring(svg)  # noqa: S314 -- our own text
    names = (root.get("aria-labelledby") or "").split()
    said = {e.get("id"): e.text or "" for e in root if e.get("id")}
    assert root.get("role") == "img"
    assert [said[name] for name in names] == [
        "Stack for 51.005 mm",
        (
            "Number 2 in the order of wringing: 1.005 mm; 50.000 left. "
            "Number 1 in the order of wringing: 50 mm; 0.000 left."
        ),
    ]
    assert not any("style" in element.attrib for element in root.iter())


LENGTHS = st.lists(st.integers(mm("0.5") // 10**4, mm("500") // 10**4), min_size=1, max_size=14)


@settings(max_examples=300)
@given(lengths=LENGTHS, pitch=st.sampled_from([24.0, 31.0, 52.0, 92.0]))
def test_blocks_are_true_to_each_other_and_broken_ones_look_longest(
    lengths: list[int], pitch: float
) -> None:
    found = heights(lengths, pitch)

    assert abs(sum(found.heights) - pitch * len(lengths)) < 1e-6
    assert min(found.heights) >= 0.22 * pitch - 1e-9
    whole = [i for i in range(len(lengths)) if i not in found.broken]
    if found.to_scale:
        scales = [Fraction(found.heights[i]) / lengths[i] for i in whole]
        assert max(scales) - min(scales) <= max(scales) / 10**9
        for i in found.broken:
            assert all(lengths[i] >= lengths[k] for k in whole)
            assert all(found.heights[i] > found.heights[k] for k in whole)


BLOCKS = st.builds(
    DrawnBlock,
    order=st.integers(1, 14),
    # Of few figures, too: then the words over the columns are wider than these.
    nominal=st.one_of(
        st.integers(1, 9).map(lambda n: n * mm("1")),
        st.integers(mm("0.5") // 50_000, mm("500") // 50_000).map(lambda n: n * 50_000),
    ),
    unit=st.sampled_from(["mm", "in"]),
    is_wear_block=st.booleans(),
    is_step=st.booleans(),
    origin=st.sampled_from(["", "A", "K2 no. 1154", "block-set-of-the-north-hall 1154" * 4]),
)


@settings(max_examples=60, deadline=None)
@given(
    blocks=st.lists(BLOCKS, min_size=1, max_size=14),
    language=st.sampled_from(["en", "de"]),
    pitch=st.sampled_from([20.0, 24.0, 30.0, 44.0]),
    least=st.sampled_from([8.0, 11.0, 16.2]),
)
def test_nothing_stands_outside_the_sheet_or_on_anything_else(
    blocks: list[DrawnBlock], language: str, pitch: float, least: float
) -> None:
    """Where there is room for it, no lettering is smaller than it may be."""
    total = sum(block.nominal for block in blocks)
    shown = StackDrawing(length=total, nominal=total, deviation=0, unit="mm", blocks=tuple(blocks))

    made = Drawing(shown, language=language, pitch=pitch, least=least)

    if made.is_legible:
        drawing = ET.fromstring(made.svg())  # noqa: S314 -- our own text
        assert not misplaced(drawing)
        sizes = [float(each.get("font-size") or 0) for each in drawing.iter(f"{SVG}text")]
        assert min(sizes) >= least - 0.01
