"""The templates of the pages, and the words in them."""

from functools import partial
from typing import Any

from msgspec import Struct

from wrung.compositions import all_compositions
from wrung.grades import all_grades
from wrung.lengths import Unit, parse, to_text
from wrung.rounding import read_length
from wrung.texts import decimal_mark
from wrung_service.api.bench.allowing import allowance
from wrung_service.api.bench.asking import Asked, search_ms
from wrung_service.api.bench.crib_shelf import CribShelf
from wrung_service.api.bench.entry import Entered
from wrung_service.api.bench.members import members_of, plain_name
from wrung_service.api.bench.more import MoreView
from wrung_service.api.bench.question import Question
from wrung_service.api.bench.shelf import cases, meant_in_mm
from wrung_service.api.bench.shelf_offers import usual_sets, wear_pairs, with_borrowed, with_wear
from wrung_service.api.bench.view import AnswerView
from wrung_service.api.bench.why import Why
from wrung_service.api.bench.words import BenchWords, unit_of, words_in
from wrung_service.api.page_parts import templates


class PageParts(Struct, frozen=True, kw_only=True):
    """What came of a question: an answer or the problem with it, and what belongs to the answer.

    Attributes:
        most_ms: the longest search that is allowed.
        crib: whether the service keeps one, which has pages of its own.
        shelf: the site of the crib whose blocks are asked for.
    """

    most_ms: int

    answer: AnswerView | None = None
    problem: str | None = None
    why: Why | None = None
    more: MoreView | None = None
    crib: bool = False
    shelf: CribShelf | None = None


def page(name: str, question: Question, asked: Asked, parts: PageParts) -> bytes:
    """A page, or a part of one, by the name of its template."""
    words, mark = words_in(question.language), decimal_mark(question.language)
    lying = cases(question, mark)
    html = (
        templates("bench")
        .get_template(name)
        .render(
            question=question,
            **_of_the_entry(question, asked.entry),
            answer=parts.answer,
            problem=parts.problem,
            **_searches(parts.most_ms),
            crib=parts.crib,
            **_of_the_crib(parts.shelf),
            allowance=allowance,
            cases=lying,
            figures=parts.shelf.figures(mark)
            if parts.shelf
            else {cell.id: cell.figure for case in lying for cell in case.cells},
            used=_used(parts.answer),
            compositions=all_compositions(),
            set_name=words.set_name,
            grades=sorted({each.name for each in all_grades()}),
            address=question.address,
            without=_without,
            usual_sets=usual_sets(words) if question.assumed else (),
            wear_pairs=partial(wear_pairs, mark=mark),
            with_wear=with_wear,
            with_borrowed=with_borrowed,
            t=words.say,
            n=words.figure,
            **_beside_the_stack(parts, words),
            **_of_kinds(question, asked, words),
        )
    )
    return html.encode()


def _of_the_entry(question: Question, entry: Entered) -> dict[str, Any]:
    """What was understood, and what may have been meant."""
    return {
        "entry": entry,
        "allowed": to_text(entry.allowed, entry.unit) if entry.allowed else "",
        "offers": (*entry.offers, *meant_in_mm(question, entry)),
        "other": _other_unit(entry),
    }


def _of_the_crib(shelf: CribShelf | None) -> dict[str, Any]:
    """Where a page lies, and what follows from that: paths are relative, for any prefix."""
    return {
        "shelf": shelf,
        "root": "../../" if shelf else "",
        "parts": "stacks/" if shelf else "bench/",
        "report": "stacks/reports" if shelf and shelf.reports else "",
    }


def _searches(most_ms: int) -> dict[str, float | None]:
    """Seconds that a page is searched for, and may be once more; None if that is no longer."""
    brief, usual, longer = (search_ms(each, most_ms) for each in ("brief", "usual", "longer"))
    return {
        "searching_s": (brief + usual) / 1000,
        "longer_s": longer / 1000 if longer > usual else None,
    }


def _beside_the_stack(parts: PageParts, words: BenchWords) -> dict[str, Any]:
    cost = parts.why.cost(words, parts.answer.small) if parts.why and parts.answer else ""
    return {"why": parts.why, "why_cost": cost, "more": parts.more}


def _of_kinds(question: Question, asked: Asked, words: BenchWords) -> dict[str, Any]:
    """What the forms and results of kinds are made of."""
    members, typed_in = members_of(question.kind), dict(question.fields)
    return {
        "own": asked.own,
        "kinds": words.kinds,
        "kind_word": words.of_kinds,
        "members": members,
        "typed_in": typed_in,
        "seldom": any(each.name in typed_in for each in members if not each.first),
        "unit_of": partial(unit_of, length=question.unit),
        "sign": partial(words.sign, length=question.unit),
        "plain_name": plain_name,
    }


def _other_unit(entry: Entered) -> str:
    """The length in the unit that was not typed, as far as it has a figure there."""
    if entry.state != "length":
        return ""
    other: Unit = "mm" if entry.unit == "in" else "in"
    return f"{read_length(parse(entry.text, entry.unit), other, 'stated')} {other}"


def _used(answer: AnswerView | None) -> dict[str, int]:
    """The blocks of the stack on top, with their numbers in the order of wringing."""
    if answer is None or not answer.stacks:
        return {}
    return {row.id: row.order for row in answer.shown[0].rows}


def _without(items: tuple[Any, ...], item: object) -> tuple[Any, ...]:
    return tuple(each for each in items if each is not item)
