"""The record of an instrument's check points, as it stands on paper."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, TypeAlias, cast

from msgspec import Struct

from wrung.lengths import AnyUnit, parse
from wrung.rounding import read_bound, read_text
from wrung.texts import SIGNS, decimal_mark, marked
from wrung_service.api.cards.instructed import Instructed
from wrung_service.api.cards.words import with_grade, words_of
from wrung_service.api.records.shape import StackRecord

Json: TypeAlias = Any
_SMALL: Final = frozenset(
    {"record.margin", "record.error", "record.permissible", "record.uncertainty"}
)
_LENGTHS: Final = frozenset({"record.point", "record.stack", "record.reading"})
_STATED: Final = ("range_from", "range_to", "resolution", "repeatability", "mechanical_effects")
"""Members of the request that the head of a record repeats."""


class CheckRecord(Struct, frozen=True, kw_only=True):
    """A record, filled in as far as there are readings; a text is empty where there is nothing.

    Attributes:
        target: the instrument, as it was named.
        facts: what was said of it, each with its word.
        standards: the certificates and sets that the stacks' blocks are from.
        headings: of the columns, with their units.
        rows: a cell for each column.
        outcome: what all of it comes to.
        remarks: sentences on it.
    """

    target: str
    facts: tuple[tuple[str, str], ...]
    standards: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    outcome: str
    remarks: tuple[str, ...]


def check_records_of(work: Instructed) -> tuple[CheckRecord, ...]:
    """One for each series of check points, in the order of the request."""
    maker = _Maker(work.record)
    asked = {each["ref"]: each for each in work.record.request["targets"]}
    return tuple(
        maker.made(result, asked[result.target])
        for result in cast("Sequence[Json]", work.answer.results or ())
        if result.__struct_config__.tag == "check_points"
    )


class _Maker:
    """Writes records in the language and units of a request."""

    def __init__(self, record: StackRecord) -> None:
        language = str(record.request["language"])
        self._record, self._words = record, words_of(language)
        self._mark = decimal_mark(language)

    def made(self, result: Json, asked: Mapping[str, Json]) -> CheckRecord:
        keys = [column.key for column in result.columns]
        return CheckRecord(
            target=result.target,
            facts=tuple(self._facts(asked)),
            standards=" · ".join(self._standards(result.target)),
            headings=tuple(map(self._heading, keys)),
            rows=tuple(zip(*(self._column(key, result.rows) for key in keys), strict=True)),
            outcome=" ".join(self._outcome(result)),
            remarks=tuple(remark.text for remark in result.remarks),
        )

    def _facts(self, asked: Mapping[str, Json]) -> Iterator[tuple[str, str]]:
        words, unit, small = self._words, self._record.unit, self._record.small_unit
        instrument = asked.get("instrument") or "micrometer"
        yield words["instrument"], words[f"instrument.{instrument}"]
        for name in _STATED:
            text = asked.get(name)
            if text not in (None, "0"):
                stated = unit if name.startswith("range") else small
                yield words[f"check.{name}"], self._with_sign(str(text), stated)
        if asked.get("readings"):
            # A statement of conformity goes with its rule (ISO/IEC 17025:2017, 7.8.6, from memory).
            multiple = asked.get("guard_multiple")
            simple = multiple is None or not float(multiple)
            rule = words["check.simple"] if simple else f"{self._figure(str(multiple))} U"
            yield words["check.guard_band"], rule

    def _standards(self, target: str) -> Iterator[str]:
        """Each set, and each certificate of a block that was used, once."""
        blocks = [b for s in self._record.stacks if s.target == target for b in s.blocks]
        yield from sorted({with_grade(b.set, b.grade, self._words) for b in blocks} - {""})
        yield from sorted({b.certificate for b in blocks if b.certificate})

    def _heading(self, key: str) -> str:
        word, unit = self._words[key.replace("record.", "column.")], self._record.unit
        if key in _SMALL:
            return f"{word}, {SIGNS[self._record.small_unit]}"
        return f"{word}, {SIGNS[unit]}" if key in _LENGTHS else word

    def _column(self, key: str, rows: Sequence[Json]) -> list[str]:
        """The cells of a column, figures all with as many decimals as the one with the most."""
        cells = [self._cell(key, row) for row in rows]
        if key not in _SMALL | _LENGTHS:
            return cells
        mark = "." if key in _LENGTHS and self._record.unit == "in" else self._mark
        most = max((len(cell.partition(mark)[2]) for cell in cells), default=0)
        return [_with_decimals(cell, mark, most) for cell in cells]

    def _cell(self, key: str, row: Json) -> str:
        if key in _LENGTHS:
            return marked(self._length(key, row) or "", self._record.unit, self._mark)
        if key == "record.passed":
            return self._words[f"statement.{row.statement}"] if row.statement else ""
        text = self._small(key, row) if key in _SMALL else row.conformity_probability
        return self._figure(str(text or ""))

    def _length(self, key: str, row: Json) -> str | None:
        stack = row.stack and row.stack.length
        text = {"record.point": row.point, "record.stack": stack}.get(key, row.reading)
        return text and read_text(text, self._record.unit)

    def _small(self, key: str, row: Json) -> str | None:
        small = self._record.small_unit
        if key == "record.error":
            return row.error and read_text(row.error, small, "result")
        if key == "record.permissible":
            return row.permissible_error and read_text(row.permissible_error, small, "most")
        sure = row.expanded_uncertainty
        bound = row.stack and row.stack.margin if key == "record.margin" else sure
        return bound and read_bound(parse(bound, small), small)

    def _outcome(self, result: Json) -> Iterator[str]:
        words, small = self._words, self._record.small_unit
        yield words[f"record.{'open' if result.passed is None else str(result.passed).lower()}"]
        if result.error_span is not None:
            span = read_text(result.error_span, small, "result")
            yield words["record.span"].format(span=self._with_sign(span, small))
        if result.permissible_span is not None:
            most = read_text(result.permissible_span, small, "most")
            yield words["record.span_most"].format(span=self._with_sign(most, small))

    def _with_sign(self, text: str, unit: AnyUnit) -> str:
        return f"{marked(text, unit, self._mark)} {SIGNS[unit]}"

    def _figure(self, text: str) -> str:
        return marked(text, self._record.small_unit, self._mark)


def _with_decimals(cell: str, mark: str, decimals: int) -> str:
    whole, _, rest = cell.partition(mark)
    return f"{whole}{mark}{rest:0<{decimals}}" if cell and decimals else cell
