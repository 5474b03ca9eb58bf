"""In which words, units and degrees one answer is written."""

from typing import Annotated

from msgspec import Meta, Struct

from wrung.lengths import SMALL_UNIT, SmallUnit, Unit
from wrung.measures import TemperatureUnit
from wrung.names import or_nearest
from wrung.texts import Phrase, languages, word
from wrung_service.api.faults import Faults


class Words(Struct, frozen=True, kw_only=True):
    """How an answer speaks.

    Attributes:
        unit: of its lengths.
        language: of its sentences.
        degrees: of temperatures in its sentences; the usual ones for the unit if not stated.
    """

    unit: Unit
    language: str = "en"
    degrees: TemperatureUnit | None = None

    @property
    def small(self) -> SmallUnit:
        """The unit of its deviations and errors."""
        return SMALL_UNIT[self.unit]

    def say(self, said: Phrase) -> str:
        """The phrase as a sentence."""
        return word(said, self.language, self.unit, self.degrees)


class Said(Struct, frozen=True, kw_only=True):
    """Something said to a person."""

    key: Annotated[str, Meta(description="Names what is said, in every language the same.")]
    text: Annotated[str, Meta(description="It in words, in the language of the request.")]


def said(phrase: Phrase, words: Words) -> Said:
    """A phrase in words."""
    return Said(key=phrase.key, text=words.say(phrase))


def check_language(language: str, faults: Faults) -> None:
    """Whether there are words in a request's language; if not, that goes to ``faults``."""
    if language not in languages():
        nearest = or_nearest(language, languages())
        detail = f"there is no text in it{nearest}; there is {', '.join(languages())}"
        faults.meaningless("/language", detail)
