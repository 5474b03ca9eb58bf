"""Whatever stands on a card is there, whatever the stack."""

import random
import re
from decimal import Decimal
from typing import Any

import pytest

from service.conftest import Client
from service.printed_cards import printed, text_of, traveller

LETTERS = "abcdefghijklmnopqrstuvwxyz ABC-0123456789"


def loose(rng: random.Random) -> dict[str, Any]:
    """A stack of any number of blocks, from any number of sets, with names of any length."""
    unit = rng.choice(["mm", "in"])
    count = rng.choice([1, 2, 3, 5, 7, 8, 9, 10, 11, 12, 14, 18])

    def named(most: int) -> str:
        text = "".join(rng.choices(LETTERS, k=rng.choice([1, 3, most])))
        return " ".join(text.split()) or "x"

    sets = [named(64) for _ in range(rng.choice([1, 1, 2, 4]))]
    steps = rng.sample(range(5001, 200_000), count)
    blocks = [
        {
            "id": f"{place}-{named(60)}",
            "nominal": str(Decimal(step) / (10_000 if unit == "mm" else 100_000)),
            "set": rng.choice(sets),
            "serial": rng.choice([None, named(20)]),
            "grade": "0" if unit == "mm" else "AS-1",
        }
        for place, step in enumerate(steps)
    ]
    total = sum(Decimal(str(block["nominal"])) for block in blocks)
    target = {"ref": named(64), "kind": "length", "length": str(total)}
    return {
        "unit": unit,
        "blocks": blocks,
        "targets": [target],
        "language": rng.choice(["en", "de"]),
    }


@pytest.mark.parametrize("seed", range(8))
def test_whatever_is_printed_is_complete(client: Client, seed: int) -> None:
    """Every figure, name and sentence is there, on as many cards as the card says."""
    rng = random.Random(seed)  # noqa: S311 - invented data
    body, paper = loose(rng), rng.choice(["a6", "half-letter", "letter"])
    record = client.post("/v1/stacks", json={**body, "record": True, "handwork": True}).json()
    (work,) = record["handwork"]

    reader = printed(client, body, format=paper, job="4471")

    text = text_of(reader)
    closed = text.replace(" ", "")
    mark = "," if (body["language"], body["unit"]) == ("de", "mm") else "."
    for block in record["record"]["stacks"][0]["blocks"]:
        figure = block["nominal"] if body["unit"] == "mm" else block["nominal"].removeprefix("0")
        assert closed.count(figure.replace(".", mark)) >= 2
        assert (block["serial"] or "").replace(" ", "") in closed
        assert block["set"].replace(" ", "") in closed
    sentences = [step["text"] for step in work["steps"] if step["phase"] == "use"]
    # What follows from the blocks themselves, and at least the first of the use.
    own = {"caution.heavy", "caution.brittle"}
    cautions = sorted(work["cautions"], key=lambda caution: caution["key"] not in own)
    count = max(2, 1 + sum(caution["key"] in own for caution in cautions))
    sentences += [caution["text"] for caution in cautions[:count]]
    assert all(sentence.replace(" ", "") in closed for sentence in sentences)
    assert body["targets"][0]["ref"].replace(" ", "") in closed
    count = int(re.findall(r"(?:card|Karte) [0-9]+ / ([0-9]+)", text)[0])
    assert len(re.findall(r"(?:card|Karte) [0-9]+ / [0-9]+", text)) == count
    assert len(reader.pages) == (count if paper != "letter" else -(-count // 4))


def test_a_card_keeps_blocks_away_from_work_of_another_temperature(client: Client) -> None:
    body = traveller(1)
    compared = {
        "ref": "op10", "kind": "comparison", "nominal": "21.015", "lower_deviation": "-10",
        "upper_deviation": "10", "part_temperature": "75", "block_temperature": "70",
    }  # fmt: skip

    text = text_of(printed(client, {**body, "targets": [compared], "temperature_unit": "degF"}))

    assert "wring after 50 min on the plate, away from the work; from 1 up" in text
    assert "Then 20 min on the plate, away from the work." in text
    assert "70 °F of the stack and 75 °F of the work" in text
    assert "beside the work" not in text
    assert "68 °F" not in text


@pytest.mark.parametrize(
    ("unit", "degrees", "said"), [("mm", "degC", "24 °C"), ("in", "degF", "75.2 °F")]
)
def test_a_card_says_how_warm_a_stack_is_that_is_as_warm_as_the_work(
    client: Client, unit: str, degrees: str, said: str
) -> None:
    """The conditions of the target, not those of the request, and in its unit throughout."""
    both = said.partition(" ")[0]
    target = {
        "ref": "op10", "kind": "comparison", "nominal": "1", "lower_deviation": "-400",
        "upper_deviation": "200", "part_temperature": both, "block_temperature": both,
    }  # fmt: skip
    composition = "inch-81" if unit == "in" else "metric-112-1"
    grade = "AS-1" if unit == "in" else "1"
    sets = [{"id": "M", "composition": composition, "grade": grade}]

    text = text_of(
        printed(
            client, {"unit": unit, "temperature_unit": degrees, "sets": sets, "targets": [target]}
        )
    )

    assert f"steel, {said}" in text
    assert set(re.findall(r"[\d.]+ °[CF]", text)) == {said}


@pytest.mark.parametrize("distance", ["100", "200", "127", "250"])
def test_a_figure_and_its_unit_stand_in_one_line(client: Client, distance: str) -> None:
    bar = {"centre_distance": distance}
    target = {"ref": "10", "kind": "sine", "bar": bar, "angle": "12.5"}
    body = traveller(1)
    lines = [
        line
        for page in printed(client, {**body, "targets": [target]}).pages
        for line in page.extract_text().splitlines()
    ]

    assert any(f"{distance} mm" in line.replace("\N{NO-BREAK SPACE}", " ") for line in lines)
    # The unit of the length stands alone, beside it and larger.
    assert not [line for line in lines if re.match(r"\s*(mm|µm|min|°C)[ ).,;]", line)]
