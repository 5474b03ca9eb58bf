"""Forms for kinds of target on the page at ``/``, and what their answers say."""

import tomllib
from collections.abc import Iterable, Iterator
from importlib.resources import files
from typing import cast, get_type_hints

import pytest
from msgspec import Struct

from service.bench_pages import PAGE, look
from service.conftest import Client
from wrung.angle_blocks.compositions import angle_grade
from wrung.compositions import all_compositions
from wrung.tapers import all_tapers
from wrung.targets.built import BuiltLength
from wrung.texts import Phrase
from wrung_service.api.bench.members import kinds_by_name, members_of
from wrung_service.api.bench.words import words_in
from wrung_service.api.kinds.examples import file_of
from wrung_service.api.kinds.found import result_of
from wrung_service.api.kinds.hints import element_of, struct_of
from wrung_service.api.kinds.shapes import Value
from wrung_service.api.operations import example


def test_a_form_asks_what_a_kind_needs_and_its_answer_speaks_of_its_trade(client: Client) -> None:
    shelf = ("unit", "mm"), ("set", "M~metric-112-1~1")
    typed = (("kind", "fit"), ("f.nominal", "25"), ("f.tolerance_class", "H7"))

    empty, page = look(client, *shelf, typed[0]), look(client, *shelf, *typed)

    assert "Still to type: nominal size, tolerance class" in empty.texts
    # ISO 286-2: 25H7 is 0 to +21 µm.
    assert {"GO", "NOT GO", "25 mm", "25.021 mm", "21 µm"} <= set(page.texts)


def test_a_limit_of_size_that_cannot_be_built_is_rounded_inward(client: Client) -> None:
    """ISO 286-2: 38.1H7 is 0 to +25 µm, 0.000984 in. A gauge of 1.501 in would pass larger ones."""
    shelf = ("unit", "in"), ("set", "A~inch-81~AS-1")
    fit = ("kind", "fit"), ("f.nominal", "1.5"), ("f.tolerance_class", "H7")
    rounded = "round inward to 0.0001 in"

    page = look(client, *shelf, *fit)
    again = look(client, *shelf, *fit, ("f.rounded_to", "0.0001"))

    assert rounded in page.texts
    assert not any(text.startswith("take 1.5") for text in page.texts)
    assert any("rounded_to=0.0001" in address for address in page.addresses)
    assert rounded not in again.texts


def test_a_form_that_was_only_opened_is_not_refused(client: Client) -> None:
    for kind in kinds_by_name():
        chosen = {"unit": "mm", "set": "M~metric-112-1~1", "kind": kind}
        page = client.get("/", params=chosen, headers=PAGE).text
        assert 'role="alert"' not in page, kind


def test_members_read_fractions_commas_and_angles_as_the_entry_does(client: Client) -> None:
    page = look(
        client,
        *(("unit", "in"), ("set", "A~inch-81~AS-1"), ("kind", "sine")),
        *(("f.bar.centre_distance", "5"), ("f.angle", "12°30'"), ("f.step", ",0001")),
        ("lang", "de"),
    )

    # 5 in x sin 12.5°, from a table of sines.
    assert "1,0822 in" in " ".join(page.texts)
    assert "12°30'00,0\"" in " ".join(page.texts)


def test_every_kind_is_answered_from_what_its_form_sends(client: Client) -> None:
    """The examples of the service, typed into forms."""
    for kind in kinds_by_name():
        asked = example("", file_of(kinds_by_name()[kind], "request")).value
        target = asked["targets"][0]
        pairs = [("unit", asked["unit"]), ("kind", kind)]
        sets = asked.get("sets", ())
        pairs += [("set", f"{s['id']}~{s['composition']}~{s['grade']}") for s in sets]
        page = look(client, *pairs, *typed_as_fields(target))

        assert not [text for text in page.texts if "Still to type" in text], kind
        headings = {
            "GO",
            "angle reached",
            "reading at the lower limit",
            "points",
            "stack for operation 10",
        }
        assert headings & set(page.texts) or "stack for operation 10" in " ".join(page.texts), kind


@pytest.mark.parametrize(("language", "metric"), [("en", "metric 80"), ("de", "metrisch 80")])
def test_tapers_are_chosen_by_their_names(client: Client, language: str, metric: str) -> None:
    shelf = ("unit", "mm"), ("set", "M~metric-112-1~1"), ("lang", language)
    fields = ("kind", "sine"), ("f.bar.centre_distance", "100")

    form = look(client, *shelf, *fields)
    page = look(client, *shelf, *fields, ("f.taper.designation", "Morse 3"))

    assert {"Morse 0", "7:24 55", "HSK 160", metric} <= set(form.texts)
    # A form that is sent whole sends an empty choice.
    unchosen = look(client, *shelf, *fields, ("f.taper.designation", ""), ("f.angle", "30"))
    assert "50 mm" in " ".join(unchosen.texts)
    # Half of Morse 3 is 1.4377 degrees by a table on the web; the whole angle is set.
    assert "2°52'" in " ".join(page.texts)


def typed_as_fields(value: Value, name: str = "f") -> Iterator[tuple[str, str]]:
    """A target of a request, as its form would send it."""
    parts = [*cast("Iterable[Value]", value)] if isinstance(value, list) else []
    if isinstance(value, dict):
        for key, each in cast("dict[str, Value]", value).items():
            if key not in {"ref", "kind", "labels"}:
                yield from typed_as_fields(each, f"{name}.{key}")
    elif parts and isinstance(parts[0], dict):
        for place, each in enumerate(parts):
            yield from typed_as_fields(each, f"{name}.{place}")
    else:
        yield name, " ".join(str(each) for each in parts) if parts else str(cast("object", value))


@pytest.mark.parametrize("language", ["en", "de"])
def test_every_member_choice_and_result_of_every_kind_has_a_word(language: str) -> None:
    name = files("wrung_service").joinpath("pages", "bench", f"kinds_{language}.toml")
    words = tomllib.loads(name.read_text(encoding="utf-8"))
    members = [(kind, each) for kind in kinds_by_name() for each in members_of(kind)]

    assert {*kinds_by_name(), "length"} == set(words["kinds"])
    of_one_kind = {f"{kind}.{each.word}" for kind, each in members}
    assert {each.word for _, each in members} == set(words["members"]) - of_one_kind
    choices = {choice for _, each in members for choice in each.choices}
    # Tapers have proper names, but for the metric ones in German.
    assert choices - {each.designation for each in all_tapers()} <= set(words["choices"])
    told = {name for kind in kinds_by_name().values() for name in result_words(result_of(kind))}
    told -= {"target", "held_by", "reason"}
    assert told == {key for key in words["results"] if "." not in key}


def test_every_set_has_a_german_name() -> None:
    names = {each.id: words_in("de").set_name(each) for each in all_compositions()}

    assert {each.id for each in all_compositions() if names[each.id] == each.name} == set()
    assert {words_in("en").set_name(each) for each in all_compositions()} == {
        each.name for each in all_compositions()
    }


def test_a_series_stands_in_its_order_below_its_record(client: Client) -> None:
    """With its targets in the order typed, the last on top, and every word in the language."""
    series = [("kind", "check_points"), ("f.series", "metric-0.5"), ("unit", "mm"), ("lang", "de")]
    page = look(client, ("kept", "10~length~want=41.37"), *series)
    headings = [text for text in page.texts if text.startswith(("Kombination für", "Prüfpunkte M"))]

    assert headings[-12].startswith("Prüfpunkte Messgerät")
    assert headings[-11:] == [
        *(f"Kombination für Arbeitsgang 20 Prüfpunkt\N{NO-BREAK SPACE}{k}" for k in range(1, 11)),
        "Kombination für Arbeitsgang 10",
    ]


def test_grades_of_angle_blocks_to_choose_are_grades_that_there_are() -> None:
    grade = next(each for each in members_of("angle_blocks") if each.name == "grade")

    assert all(angle_grade(each) for each in grade.choices)


def result_words(found: type[Struct]) -> Iterator[str]:
    """The members of a result, and of all that is in it."""
    for name, hint in get_type_hints(found, include_extras=True).items():
        element = element_of(hint)
        inner = struct_of(hint if element is None else element)
        if name in found.__struct_fields__ and inner not in (BuiltLength, Phrase):
            yield name
            if inner is not None:
                yield from result_words(inner)


@pytest.mark.parametrize(("unit", "sign"), [("in", "°F"), ("mm", "°C")])
def test_a_form_asks_for_temperatures_as_the_shop_reads_them(
    client: Client, unit: str, sign: str
) -> None:
    page = look(client, ("unit", unit), ("kind", "comparison"))

    assert any(sign in text for text in page.texts)
    assert not any({"°F": "°C", "°C": "°F"}[sign] in text for text in page.texts)
