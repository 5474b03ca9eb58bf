"""Where the texts of a drawing are: outside it, on one another, or across a line."""

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator, Sequence
from itertools import combinations, pairwise
from typing import TypeAlias

Box: TypeAlias = tuple[float, float, float, float]
Segment: TypeAlias = tuple[float, float, float, float]

_SVG = "{http://www.w3.org/2000/svg}"
_LETTER = 0.52  # width over size, somewhat more than sans-serif fonts have on average
_FIGURE, _POINT = 0.65, 0.3
_STARTS = {"start": 0.0, "middle": 0.5, "end": 1.0}


def misplaced(drawing: ET.Element, *, lines: bool = False) -> list[str]:
    """The texts that are cut by the edge or lie on others; with ``lines`` on strokes, too."""
    width, height = (float(n) for n in drawing.attrib["viewBox"].split()[2:])
    texts = [(words, box) for words, box in _texts(drawing, 0, 0)]
    found = [f"cut: {words}" for words, box in texts if not _inside(box, width, height)]
    found += [f"{a} on {b}" for (a, one), (b, other) in combinations(texts, 2) if _meet(one, other)]
    if lines:
        strokes = list(_strokes(drawing, 0, 0))
        found += [
            f"{words} across a line" for words, box in texts if any(_cuts(s, box) for s in strokes)
        ]
    return found


def _texts(parent: ET.Element, dx: float, dy: float) -> Iterator[tuple[str, Box]]:
    for each, x, y in _placed(parent, dx, dy):
        if each.tag == f"{_SVG}g":
            yield from _texts(each, x, y)
        elif each.tag == f"{_SVG}text":
            yield "".join(each.itertext()), _box(each, x, y)


def _box(each: ET.Element, x: float, y: float) -> Box:
    words, size = "".join(each.itertext()), float(each.attrib["font-size"])
    width = size * sum(map(_width(each.get("font-family", "")), words))
    x, y = x + float(each.attrib["x"]), y + float(each.attrib["y"])
    start = width * _STARTS[each.get("text-anchor", "start")]
    if each.get("transform", "").startswith("rotate(-90"):
        return x - 0.75 * size, y + start - width, x + 0.2 * size, y + start
    return x - start, y - 0.75 * size, x - start + width, y + 0.2 * size


def _width(family: str) -> Callable[[str], float]:
    """Widths over the size; figures of B612 by the table in the font itself."""
    if not family.startswith("B612"):
        return lambda _: _LETTER
    return lambda letter: _FIGURE if letter.isdigit() else _POINT if letter in ".," else _LETTER


def _strokes(parent: ET.Element, dx: float, dy: float) -> Iterator[Segment]:
    """Straight lines and the edges of what is drawn with an outline."""
    for each, x, y in _placed(parent, dx, dy):
        if each.tag == f"{_SVG}g":
            yield from _strokes(each, x, y)
        else:
            points = [(x + a, y + b) for a, b in _points(each)]
            for (a, b), (c, d) in pairwise(points):
                yield a, b, c, d


def _points(each: ET.Element) -> Sequence[tuple[float, float]]:
    kind = each.tag.removeprefix(_SVG)
    if kind == "line":
        x1, y1, x2, y2 = (float(each.attrib[name]) for name in ("x1", "y1", "x2", "y2"))
        return [(x1, y1), (x2, y2)]
    if kind == "rect" and each.get("stroke", "none") != "none":
        x, y, w, h = (float(each.attrib[name]) for name in ("x", "y", "width", "height"))
        return [(x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)]
    if kind in ("polygon", "polyline"):
        numbers = [float(n) for n in re.findall(r"-?[\d.]+", each.attrib["points"])]
        points = list(zip(numbers[::2], numbers[1::2], strict=True))
        return [*points, points[0]] if kind == "polygon" else points
    return []


def _placed(parent: ET.Element, dx: float, dy: float) -> Iterator[tuple[ET.Element, float, float]]:
    """Its elements, each with how far it is moved."""
    for each in parent:
        moved = re.match(r"translate\((-?[\d.]+)[ ,]+(-?[\d.]+)\)", each.get("transform", ""))
        x, y = (float(moved[1]), float(moved[2])) if moved else (0.0, 0.0)
        yield each, dx + x, dy + y


def _inside(box: Box, width: float, height: float) -> bool:
    return box[0] >= 0 and box[1] >= 0 and box[2] <= width and box[3] <= height


def _meet(one: Box, other: Box) -> bool:
    across = min(one[2], other[2]) - max(one[0], other[0])
    return across > 0 and min(one[3], other[3]) - max(one[1], other[1]) > 0


def _cuts(line: Segment, box: Box) -> bool:
    """Whether part of the line is inside the box (Liang and Barsky)."""
    x, y, dx, dy = line[0], line[1], line[2] - line[0], line[3] - line[1]
    first, last = 0.0, 1.0
    for p, q in ((-dx, x - box[0]), (dx, box[2] - x), (-dy, y - box[1]), (dy, box[3] - y)):
        if p == 0:
            if q <= 0:
                return False
        elif p < 0:
            first = max(first, q / p)
        else:
            last = min(last, q / p)
    return first < last
