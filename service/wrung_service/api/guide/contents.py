"""Which pages the guide has, in the order of its start page, and their text."""

from collections.abc import Mapping
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any, Final

from msgspec import Struct

from wrung_service.api.kinds.examples import file_of, name_of
from wrung_service.api.kinds.wanted import KINDS
from wrung_service.api.operations import example

_KINDS: Final[Mapping[str, type[Struct]]] = {
    name_of(kind).replace("_", "-"): kind for kind in KINDS
}
"""The kinds of target by the names of their pages."""

GROUPS: Final[Mapping[str, tuple[str, ...]]] = {
    "Lengths and limits": (
        *("lengths", "limits", "fit", "inch-fit", "general-tolerance", "gauges", "comparison"),
        *("between-jaws",),
    ),
    "Sizes by pins, rolls, balls and wires": (
        *("centre-distance", "v-block", "radius-gauge", "ring-bore", "thread-wires"),
        *("gear-pins",),
    ),
    "Angles, tapers and dovetails": (
        *("sine", "compound-sine", "angle-blocks", "two-rolls"),
        *("external-taper", "internal-taper", "dovetail"),
    ),
    "Instruments": (
        *("check-points", "height-setting", "depth-setting", "bench-centres", "ladder"),
    ),
    "The choice of blocks": ("travellers", "preferences", "choices", "coverage"),
    "At the bench": ("handwork",),
    "In the tool crib": ("crib", "plans", "history", "webhooks", "batches"),
    "Uncertainty": (
        *("metrology", "worked-budget", "decisions", "error-measures", "certificates"),
    ),
}
"""Every page by its name, under the headings of the start page."""
PAGES: Final = tuple(page for pages in GROUPS.values() for page in pages)
DRAWINGS: Final = frozenset({*PAGES, "conditions", "loans", "on-the-plate"})
"""Names of drawings: of pages, of states in the crib, and of instruments on a plate."""

_OTHERS: Final = {
    "lengths": "stacks-single",
    "gauges": "stacks-gauges",
    "travellers": "stacks-traveller",
    "preferences": "stacks-preferences",
    "plans": "plan",
    "coverage": "coverage-depleted",
}
"""The example of a page that is about no derived kind of target."""


def text_of(page: str) -> str:
    """The page's Markdown."""
    folder = ("kinds",) if page in _KINDS else ()
    return _file(*folder, f"{page}.md").read_text(encoding="utf-8")


def title_of(page: str) -> str:
    """Its heading."""
    return text_of(page).partition("\n")[0].removeprefix("# ")


def summary_of(page: str) -> str:
    """The first sentence under its heading."""
    paragraph = text_of(page).split("\n\n")[1].replace("\n", " ")
    return paragraph.partition(". ")[0].removesuffix(".") + "."


def example_of(page: str) -> tuple[Any, Any] | None:
    """The request that the page explains, and its answer; None if there is none."""
    if page in _KINDS:
        names = (file_of(_KINDS[page], "request"), file_of(_KINDS[page], "answer"))
    elif page in _OTHERS:
        names = (f"{_OTHERS[page]}-request", f"{_OTHERS[page]}-answer")
    else:
        return None
    return example("", names[0]).value, example("", names[1]).value


def drawing_of(name: str) -> Traversable:
    """A drawing; that of a page need not exist."""
    return _file("drawings", f"{name}.svg")


def style() -> str:
    """The style sheet of all pages."""
    return _file("style.css").read_text(encoding="utf-8")


def _file(*path: str) -> Traversable:
    return files("wrung_service").joinpath("guide", *path)
