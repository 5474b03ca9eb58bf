"""In which words, units and degrees one answer is written."""

from collections.abc import Iterable
from typing import Annotated, Final

from msgspec import Meta, Struct, UnsetType

from wrung.lengths import SMALL_UNIT, SmallUnit, Unit
from wrung.measures import TemperatureUnit
from wrung.names import or_nearest
from wrung.texts import Phrase, languages, word
from wrung_service.api.faults import Faults

TEMPERATURE_UNIT: Final = (
    "Unit of every temperature and of every difference of temperatures: `degC`, then differences "
    "are in K, or `degF`. Sentences and cards speak of it, too. Coefficients of expansion are in "
    "1e-6/K always. `degC` if left out."
)


class Words(Struct, frozen=True, kw_only=True):
    """How an answer speaks.

    Attributes:
        unit: of its lengths.
        language: of its sentences.
        degrees: of its temperatures, in members and in sentences.
    """

    unit: Unit
    language: str = "en"
    degrees: TemperatureUnit = "degC"

    @property
    def small(self) -> SmallUnit:
        """The unit of its deviations and errors."""
        return SMALL_UNIT[self.unit]

    def say(self, said: Phrase) -> str:
        """The phrase as a sentence."""
        return word(said, self.language, self.unit, self.degrees)


class Said(Struct, frozen=True, kw_only=True):
    """A text for a person."""

    key: Annotated[str, Meta(description="Identifies the text; the same in every language.")]
    text: Annotated[str, Meta(description="The text, in the language of the request.")]


def said(phrase: Phrase, words: Words) -> Said:
    """A phrase in words."""
    return Said(key=phrase.key, text=words.say(phrase))


def texts_of(remarks: Iterable[Said] | UnsetType) -> tuple[str, ...]:
    """The sentences of remarks alone."""
    return tuple(each.text for each in remarks or ())


def degrees_of(stated: TemperatureUnit | None) -> TemperatureUnit:
    """The unit of temperatures in all that is answered."""
    return stated or "degC"


def check_language(language: str, faults: Faults) -> None:
    """Whether there are words in a request's language; if not, that goes to ``faults``."""
    if language not in languages():
        nearest = or_nearest(language, languages())
        detail = f"there is no text in it{nearest}; there is {', '.join(languages())}"
        faults.meaningless("/language", detail)
