"""Wordings: complete in every language, with the same figures, and in its own decimal mark."""

import re
from importlib.resources import files
from pathlib import Path
from typing import get_args

import pytest

import wrung
import wrung_service
from solver.targets.samples import SAMPLES
from wrung.angles import angle
from wrung.errors import InputError
from wrung.lengths import inch, mm, um
from wrung.materials import all_materials
from wrung.measures import Measure
from wrung.metrology.budget import NoteCode
from wrung.tables import load
from wrung.targets.check_points_result import HEADINGS
from wrung.texts import Phrase, figure, keys, languages, phrase, word
from wrung_service.api.texts import ROLE

_SENTENCES = ("step.", "caution.", "ratio.", "block.", "grade.", "note.")
_PLACES = re.compile(r"\{(\w+)\}")


def wordings(language: str) -> dict[str, str]:
    table = load(f"texts/{language}.toml", dict[str, object])
    phrases = table["phrases"]
    assert isinstance(phrases, dict)
    return phrases


def test_english_and_german_ship() -> None:
    assert {"en", "de"} <= set(languages())


@pytest.mark.parametrize("language", languages())
class TestEveryLanguage:
    def test_it_has_the_keys_of_english(self, language: str) -> None:
        assert keys(language) == keys("en")

    def test_its_wordings_take_the_figures_of_english(self, language: str) -> None:
        english, own = wordings("en"), wordings(language)

        for key, text in english.items():
            assert set(_PLACES.findall(own[key])) == set(_PLACES.findall(text)), key

    def test_every_wording_is_written(self, language: str) -> None:
        for key, text in wordings(language).items():
            assert text.strip() == text != ""
            assert not key.startswith(_SENTENCES) or text.endswith(".")


def test_every_key_that_the_library_says_has_words() -> None:
    """Keys are literals, but for those that are made of codes and ids."""
    found: set[str] = set()
    groups = "|".join(sorted({key.partition(".")[0] for key in keys("en")}))
    pattern = re.compile(rf'"((?:{groups})\.[a-z_]+)"')
    for package in (wrung, wrung_service):
        for source in Path(package.__path__[0]).rglob("*.py"):
            found |= set(pattern.findall(source.read_text(encoding="utf-8")))
    # Columns of the store, what history calls its events, and templates and words of the pages and
    # cards have the form of keys, too.
    others = ("block.", "check.", "coverage.", "note.", "record.")
    found -= {key for key in found if key.startswith(others) and key not in keys("en")}
    found |= {f"note.{code}" for code in get_args(NoteCode)}
    found |= {f"material.{material.id}" for material in all_materials()}

    found |= {f"role.{role}" for role in _roles()}
    assert found == keys("en")
    assert {heading.key for heading in HEADINGS} <= found


def _roles() -> set[str]:
    """The parts that stacks play, as they are published; of many alike without their number."""
    published = {re.sub(r"_[0-9]+$", "", role) for role in re.findall(r"`(\w+)`", ROLE)}
    roles = (each.role or "" for target in SAMPLES for each in target.requirements())
    assert {re.sub(r"_[0-9]+$", "", role) for role in roles} - {""} <= published
    return published


def test_figures_are_worded_in_unit_and_language() -> None:
    said = phrase(
        "sine.steep",
        figure("complement", angle("27°30'15.5\""), Measure.ANGLE),
        figure("height", mm("50.0005"), Measure.LENGTH),
    )

    assert "27°30'15.5\"" in word(said)
    assert "50.0005 mm" in word(said)
    assert "50,0005 mm" in word(said, "de")
    assert "1.96852" in word(said, "en", "in")


def test_names_keep_their_points() -> None:
    said = phrase("step.take", figure("blocks", "0.1005 in (bench-3/0.1005)"))

    assert "bench-3/0.1005" in word(said, "de")


@pytest.mark.parametrize(
    ("measure", "value", "unit", "text"),
    [
        (Measure.MARGIN, um("1.5"), "mm", "1.5 µm"),
        (Measure.MARGIN, inch("0.0001"), "in", "100 µin"),
        (Measure.SECONDS, 1_500_000_000, "mm", '1.5"'),
    ],
)
def test_small_figures_come_in_small_units(
    measure: Measure, value: int, unit: str, text: str
) -> None:
    said = Phrase(key="comparison.scale", figures=(figure("interval", value, measure),))

    assert text in word(said, "en", "in" if unit == "in" else "mm")


def test_a_language_that_is_not_there_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        word(phrase("step.apart"), "tlh")

    assert [fault.pointer for fault in caught.value.faults] == ["/language"]


def test_every_step_use_and_caution_has_its_source_beside_it() -> None:
    """As published, or "common practice, no source"; "from memory" where it was not read."""
    text = files("wrung").joinpath("data", "texts", "en.toml").read_text(encoding="utf-8")
    lines = [
        line for line in text.splitlines() if line.startswith(('"step.', '"use.', '"caution.'))
    ]

    assert lines
    for line in lines:
        source = line.rpartition('" # ')[2]
        assert source != line, line
        assert len(source) > len("no source"), line


@pytest.mark.parametrize("language", languages())
def test_no_wording_holds_a_figure_with_a_unit(language: str) -> None:
    """Such figures are the phrase's, so that they come in the units of the request."""
    fixed = re.compile(r"\d ?(mm|µm|nm|in|µin)\b|°[CF]")

    for key, text in wordings(language).items():
        assert not fixed.search(text), key


def test_german_has_a_comma_and_words_of_its_own() -> None:
    # Names, and figures alone.
    alike = {f"material.{name}" for name in ("zerodur", "invar")} | {"coverage.mark"}
    alike |= {"unmet.taken_block", "unmet.taken_by"}
    english, german = wordings("en"), wordings("de")

    assert {key for key in english if english[key] == german[key]} == alike
    standards = re.compile(r"(ASME|ANSI|GGG|DIN|ISO)[^ ]* [\w.-]+")
    for key, text in german.items():
        assert not re.search(r"\d\.\d", standards.sub("", text)), key


def test_german_has_the_terms_of_the_trade() -> None:
    """Winkelendmaße, Komplementwinkel, unbeschriftete Fläche, gewendetes, Ansprengstelle."""
    told = " ".join(wordings("de").values())

    terms = ("Winkelendmaß", "Komplementwinkel", "unbeschriftete Fläche", "gewende", "Ansprengst")
    assert all(term in told for term in terms)
    assert not re.search(r"\b(Blöcke|Ergänzungswinkel|blanke|verdreht\w*|Fuge)\b", told)
