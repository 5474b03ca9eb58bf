"""Every number in a sentence of an answer is one that the answer, or its request, has as a figure.

Sentences round what the answer has in full: bounds to three figures, deviations to 0.01 µm.
Handwork is left out: its times and rules of thumb are tested on their own.
"""

import re
from collections.abc import Iterable, Iterator
from decimal import ROUND_FLOOR, Context, Decimal

import pytest

from service.conftest import Client
from service.every_answer import Json, asked, example, texts

_NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)?")
_WITH_UNIT = re.compile(
    r"(?<![\w.,])(?P<whole>\d+)[.,](?P<decimals>\d+) ?(?P<unit>mm|in|µm|µin|\"|°C|°F)(?!\w)"
)
_MOST_DECIMALS = {"mm": 6, "in": 7, "µm": 2, "µin": 1, '"': 1, "°C": 2, "°F": 2}
_NAMES = re.compile(
    r"ISO 3650(:1998)?|ISO(/R)? 1938(-1|:1971)?|(ASME )?B89\.1\.9(-\d+)?|GGG-G-15C|"
    r"grade \S+ \(|e-6/K"
)
_RULES = {"10", "45", "20", "68", "2", "11.5", "100", "4.5"}
"""Constants that the wordings themselves hold: a tenth, 45°, 20 °C and 68 °F, the coverage factor,
steel's millionths, all of the way to the edge, and what hardened steel bears, GPa."""


def narrow() -> Iterator[tuple[str, str, Json]]:
    """Requests whose tolerances are too narrow for their stacks, one for each that can be."""
    sets = [{"id": "K", "composition": "inch-81", "grade": "AS-2"}]
    length = {"ref": "x", "kind": "length", "length": "1.2345"}
    tens = {"tolerance": {"lower": "-0.00001", "upper": "0.00001"}}
    bar = {"centre_distance": "5", "expanded_uncertainty": "20"}
    sine = {"ref": "s", "kind": "sine", "bar": bar, "angle": "30.123", "max_angle_error": "4"}
    part = {"target": "x", "lower": "1.2345", "upper": "1.2346"}
    warm = {"temperature": {"value": 23, "limits": 1}, "part": {"material": "aluminium"}}
    for name, more in (
        ("length", {"targets": [{**length, **tens}]}),
        ("sine", {"targets": [sine]}),
        ("part", {"targets": [length], "part_tolerances": [part]}),
        ("warm part", {"targets": [length], "part_tolerances": [part], "conditions": warm}),
    ):
        yield name, "/v1/stacks", {"unit": "in", "sets": sets, "budget": "table", **more}
    size = {"ref": "x", "nominal": "25"}
    narrow_kinds: dict[str, list[Json]] = {
        "limits": [{**size, "kind": "limits", "lower_deviation": "0", "upper_deviation": "3"}],
        "fit": [{**size, "kind": "fit", "tolerance_class": "H4", "rounded_to": "0.001"}],
    }
    for kind in ("limits", "fit", "comparison", "between_jaws", "check_points"):
        body = example(kind)
        targets = narrow_kinds.get(kind, body["targets"])
        coarse = [{**each, "grade": "2"} for each in body["sets"]]
        members: Json = {"targets": targets, "sets": coarse, "conditions": warm, "budget": "table"}
        yield kind, "/v1/stacks", {**body, **members}
    wedge = {"ref": "a", "kind": "angle_blocks", "angle": "31", "composition": "angle-16"}
    yield "angle", "/v1/stacks", {"unit": "mm", "targets": [{**wedge, "max_angle_error": "5"}]}


ASKED = {
    f"{name}, {body['unit']}": (path, body)
    for name, path, body in (
        *asked("mm"),
        *asked("in"),
        *((f"narrow {n}", p, b) for n, p, b in narrow()),
    )
}


def spoken(answer: Json) -> Iterator[tuple[str, str]]:
    """Place and text of every sentence, less handwork and drawings."""
    for at, text in texts(answer):
        last = at.rpartition("/")[2]
        if last in ("text", "warning", "detail") and "/handwork/" not in at:
            yield at, text


def figures(value: object) -> Iterator[Decimal]:
    """Every figure among the members, sentences left out."""
    if isinstance(value, dict):
        for name, each in value.items():
            if name not in ("text", "warning", "detail", "picture"):
                yield from figures(each)
    elif isinstance(value, list):
        for each in value:
            yield from figures(each)
    elif isinstance(value, (int, float)) and not isinstance(value, bool):
        yield abs(Decimal(str(value)))
    elif isinstance(value, str):
        yield from (abs(Decimal(found)) for found in re.findall(r"-?\d+(?:\.\d+)?", value))


def derived(answer: Json, request: Json) -> Iterator[Decimal]:
    """What sentences make of figures: widths, worst cases, and how far a stack can be off."""
    small = Decimal(1000) if answer.get("unit") == "mm" else Decimal(1_000_000)
    for member in walk([answer, request]):
        low, high = member.get("lower"), member.get("upper")
        if isinstance(low, str) and isinstance(high, str):
            yield Decimal(high) - Decimal(low)
            yield (Decimal(high) - Decimal(low)) * small
        limit, worn = member.get("limit"), member.get("wear_limit")
        if isinstance(limit, str) and isinstance(worn, str):
            yield abs(Decimal(limit) - Decimal(worn)) * small
        for first, second, sign in (
            ("upper_deviation", "lower_deviation", -1),
            ("permissible_error", "permissible_error", 1),
            ("error", "margin", 1),
            ("error", "uncertainty", 1),
            ("offset_in_use", "expanded_uncertainty", 1),
        ):
            one, other = member.get(first), member.get(second)
            if isinstance(one, str) and isinstance(other, str):
                size = Decimal(one) if sign < 0 else abs(Decimal(one))
                yield size + sign * Decimal(other)


def walk(value: object) -> Iterator[Json]:
    if isinstance(value, dict):
        yield value
        for each in value.values():
            yield from walk(each)
    elif isinstance(value, list):
        for each in value:
            yield from walk(each)


def floored(ratio: Decimal) -> Decimal:
    return Context(prec=3, rounding=ROUND_FLOOR).plus(ratio)


def near(number: Decimal, known: set[Decimal]) -> bool:
    """Whether it is a known figure, or one that was rounded to three figures or more."""
    exponent = number.as_tuple().exponent
    assert isinstance(exponent, int)
    # Trailing zeros are not said, so two figures may be three.
    place = Decimal(1).scaleb(min(exponent, number.adjusted() - 2))
    return any(abs(number - each) < max(place, Decimal("0.001")) for each in known)


def agrees(number: Decimal, ratios: Iterable[Decimal]) -> bool:
    """Whether it is one of the ratios, of an error that is rounded up by a hundredth at most."""
    return any(0 <= number - each <= number / 100 for each in ratios)


@pytest.mark.parametrize("name", ASKED)
def test_every_number_in_a_sentence_is_in_the_answer(client: Client, name: str) -> None:
    path, body = ASKED[name]

    response = client.post(path, json={**body, "language": "en"})

    assert response.status_code == 200, response.text
    answer = response.json()
    known = {*figures(answer), *figures(body), *derived(answer, body), *map(Decimal, _RULES)}
    known |= {Decimal("0.0254"), Decimal(1), Decimal("0.00635"), Decimal("0.25")}  # joint and film
    for at, text in spoken(answer):
        numbers = [Decimal(found) for found in _NUMBER.findall(_NAMES.sub("", text))]
        halves = 1 if "allowed either way" in text else 2
        ratios = {floored(t / (halves * u)) for t in numbers for u in numbers if u}
        for number in numbers:
            assert near(number, known) or agrees(number, ratios), f"{at}: {number} in {text!r}"


def too_fine(text: str) -> list[str]:
    """Figures with more decimals than a shop can use, unless they have three figures or fewer.

    Six of a millimetre and seven of an inch are left to nominal lengths, which are exact.
    """
    return [
        found[0]
        for found in _WITH_UNIT.finditer(re.sub("<[^>]*>", " ", text))
        if len(found["decimals"] or "") > _MOST_DECIMALS[found["unit"]]
        and len((found["whole"] + found["decimals"]).lstrip("0")) > 3
    ]


@pytest.mark.parametrize("name", ASKED)
def test_no_sentence_has_more_figures_than_a_shop_can_use(client: Client, name: str) -> None:
    path, body = ASKED[name]

    answer = client.post(path, json={**body, "language": "de"}).json()

    assert {at: fine for at, text in texts(answer) if (fine := too_fine(text))} == {}


@pytest.mark.parametrize("name", [name for name in ASKED if name.startswith("narrow")])
def test_the_ratio_of_a_sentence_is_the_tolerance_over_twice_the_error(
    client: Client, name: str
) -> None:
    """From the numbers that each of these sentences has; of an angle half the width is said."""
    path, body = ASKED[name]

    answer = client.post(path, json=body).json()

    found = [text for _, text in spoken(answer) if "ratio" in text or "twice that" in text]
    assert found
    for text in found:
        numbers = [Decimal(each) for each in _NUMBER.findall(text)]
        halves = 1 if "allowed either way" in text else 2
        pairs = [(t, u) for t in numbers for u in numbers if u]
        ratios = [floored(t / (halves * u)) for t, u in pairs if t != u]
        assert any(agrees(number, ratios) for number in numbers), text


@pytest.mark.parametrize("language", ["en", "de"])
def test_one_ratio_in_one_answer(client: Client, language: str) -> None:
    """Limits of a slot and part tolerances alike: result and decision have one ratio."""
    body = example("limits")
    (target,) = [each for each in body["targets"] if each.get("nominal") or each.get("lower")][:1]
    first = client.post("/v1/stacks", json={**body, "targets": [target]}).json()
    limits = first["results"][0]["limits"]
    tolerances = [
        {
            "target": stack["target"],
            "role": stack["role"],
            "lower": limits["lower"],
            "upper": limits["upper"],
        }
        for stack in first["stacks"]
    ]
    warm = {"temperature": {"value": 24, "limits": 1}, "part": {"material": "aluminium"}}

    for conditions in ({}, warm):
        asked_for = {**body, "targets": [target], "part_tolerances": tolerances,
                     "conditions": conditions, "language": language}  # fmt: skip
        answer = client.post("/v1/stacks", json=asked_for).json()

        by_decision = [
            Decimal(stack["decision"]["test_uncertainty_ratio"]) for stack in answer["stacks"]
        ]
        by_result = answer["results"][0]["limits"]["test_uncertainty_ratio"]
        assert Decimal(by_result) == min(by_decision)
