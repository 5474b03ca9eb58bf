"""What an answer says in the terms of the trade, and what to know of it, as lines of text."""

from collections.abc import Iterable, Iterator

from wrung.lengths import Unit
from wrung_service.api.bench.results import Figure, Result, Table, results_of
from wrung_service.api.bench.words import BenchWords, words_in
from wrung_service.api.stacks.answer import StackAnswer
from wrung_service.commands.language import Spoken


def result_lines(answer: StackAnswer, spoken: Spoken) -> Iterator[str]:
    """For each target that is more than a length its figures and remarks."""
    words = words_in(spoken.language)
    for result in results_of(answer):
        yield f"{result.target}, {words.of_kinds('kinds', result.kind)}"
        for each in result.figures:
            yield f"  {_named(each, result, words)} {_read(each, words, answer.unit)}"
        for table in result.tables:
            yield from _rows(table, result, words, answer.unit)
        yield from note_lines(result.remarks, spoken, "  ")
        yield ""


def note_lines(remarks: Iterable[str], spoken: Spoken, before: str = "") -> Iterator[str]:
    """Remarks, each behind a word that tells it from what is to be done."""
    return (before + spoken.say("printed.note", text=text) for text in remarks)


def _named(figure: Figure, result: Result, words: BenchWords) -> str:
    return ", ".join(words.of_kinds("results", word, result.kind) for word in figure.words) + ":"


def _read(figure: Figure, words: BenchWords, unit: Unit) -> str:
    if figure.choice:
        return words.of_kinds("choices", figure.value)
    sign = words.sign(figure.unit, unit) if figure.unit else ""
    return f"{words.figure(figure.value)} {sign}".rstrip()


def _rows(table: Table, result: Result, words: BenchWords, unit: Unit) -> Iterator[str]:
    for row in table.rows:
        cells = (each for each in row if each is not None)
        named = (
            f"{words.of_kinds('results', each.words[-1], result.kind)} {_read(each, words, unit)}"
            for each in cells
        )
        yield "  " + ", ".join(named)
