"""The templates of the pages, and the words in them."""

from collections.abc import Mapping
from typing import Any, Final

from wrung.compositions import all_compositions
from wrung.grades import all_grades
from wrung.lengths import AnyUnit, Unit, parse, to_text
from wrung.texts import decimal_mark
from wrung_service.api.bench.entry import Entered
from wrung_service.api.bench.question import Question
from wrung_service.api.bench.shelf import cases
from wrung_service.api.bench.view import AnswerView
from wrung_service.api.page_parts import said_in, templates

SIGNS: Final[Mapping[AnyUnit, str]] = {"mm": "mm", "in": "in", "um": "µm", "uin": "µin"}


def page(
    name: str, question: Question, entry: Entered, answer: AnswerView | None, problem: str | None
) -> bytes:
    """A page, or a part of one, by the name of its template."""
    html = (
        templates("bench")
        .get_template(name)
        .render(
            question=question,
            entry=entry,
            other=_other_unit(entry),
            answer=answer,
            problem=problem,
            cases=cases(question, decimal_mark(question.language)),
            used=_used(answer),
            compositions=all_compositions(),
            grades=sorted({each.name for each in all_grades()}),
            address=question.address,
            without=_without,
            t=said_in("bench", question.language),
        )
    )
    return html.encode()


def _other_unit(entry: Entered) -> str:
    """The length in the unit that was not typed, as far as it has a figure there."""
    if entry.state != "length":
        return ""
    other: Unit = "mm" if entry.unit == "in" else "in"
    return f"{to_text(parse(entry.text, entry.unit), other)} {other}"


def _used(answer: AnswerView | None) -> dict[str, int]:
    """The blocks of the last stack, with their numbers in the order of wringing."""
    if answer is None or not answer.stacks:
        return {}
    return {row.id: row.order for row in answer.stacks[-1].rows}


def _without(items: tuple[Any, ...], item: object) -> tuple[Any, ...]:
    return tuple(each for each in items if each is not item)
