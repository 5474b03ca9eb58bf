"""The words of the pages, by language."""

import tomllib
from functools import cache
from importlib.resources import files

from wrung.compositions import Composition
from wrung.lengths import SMALL_UNIT, Unit
from wrung.measures import Measure
from wrung.texts import SIGNS, USUAL_DEGREES, decimal_mark
from wrung_service.api.bench.members import Member
from wrung_service.api.bench.results import FigureUnit
from wrung_service.api.page_words import said_in


class BenchWords:
    """What the pages say in one language."""

    def __init__(self, language: str) -> None:
        self.mark = decimal_mark(language)
        self.say = said_in("bench", language)
        path = files("wrung_service").joinpath("pages", "bench", f"kinds_{language}.toml")
        self._kinds: dict[str, dict[str, str]] = tomllib.loads(path.read_text("utf-8"))

    @property
    def kinds(self) -> tuple[str, ...]:
        """The kinds of target as the page lists them; the document has new ones at its end."""
        return tuple(self._kinds["kinds"])

    def figure(self, value: object) -> str:
        """A figure with the decimal sign of the language."""
        return str(value).replace(".", self.mark)

    def of_kinds(self, table: str, key: str, kind: str = "") -> str:
        """A word for a kind, one of its members, choices or results; as it is, if there is none."""
        words = self._kinds[table]
        if found := words.get(f"{kind}.{key}") or words.get(key):
            return found
        # One of many alike, such as point_3.
        alike, _, number = key.rpartition("_")
        if number.isdigit() and alike in words:
            return f"{words[alike]}\N{NO-BREAK SPACE}{number}"
        return key.replace("_", " ")

    def set_name(self, known: Composition) -> str:
        """The name of a set; in English it is part of its table."""
        return self._kinds["sets"].get(known.id, known.name)

    def sign(self, unit: FigureUnit, length: Unit) -> str:
        """What stands behind a figure, on a page whose lengths are in that unit."""
        if unit == "seconds":
            return "″"
        return self.say(f"per_small.{length}") if unit == "per_small" else SIGNS[unit]


def unit_of(member: Member, length: Unit) -> str:
    """What the figure typed for a member is in; nothing where it says so itself, as angles do."""
    small = SIGNS[SMALL_UNIT[length]]
    signs = {
        Measure.LENGTH: length,
        Measure.DIFFERENCE: length,
        Measure.DEVIATION: small,
        Measure.MARGIN: small,
        Measure.SECONDS: "″",
        Measure.TEMPERATURE: SIGNS[USUAL_DEGREES[length]],
        Measure.ANGLE: "°",
    }
    return signs.get(member.measure, "") if member.measure else ""


@cache
def words_in(language: str) -> BenchWords:
    """Read once."""
    return BenchWords(language)
