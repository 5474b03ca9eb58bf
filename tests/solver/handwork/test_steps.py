"""What the hands do for one stack; common practice, no source, unless a test says otherwise."""

from collections.abc import Sequence

import pytest
from msgspec import structs

from wrung.angles import angle
from wrung.answers import PlacedBlock, Stack
from wrung.blocks import Block
from wrung.handwork.changes import changes
from wrung.handwork.instructions import instructions, steps
from wrung.handwork.order import wringing_order
from wrung.handwork.protractor import protractor_reading, to_minutes
from wrung.handwork.soaking import normalising_minutes, soaking_minutes
from wrung.handwork.step import Step
from wrung.handwork.work import Series, Work, alone
from wrung.lengths import mm
from wrung.texts import word


def stack(text: str, *, wear: str = "") -> Stack:
    """A stack of blocks named by their lengths, in wringing order."""
    gauge = [PlacedBlock(id=each, nominal=mm(each)) for each in text.split()]
    ends = [
        PlacedBlock(id=f"w{k}", nominal=mm(each), role="wear")
        for k, each in enumerate(wear.split())
    ]
    blocks = wringing_order([*gauge, *ends])
    nominal = sum(block.nominal for block in blocks)
    return Stack(
        target="s",
        length=nominal,
        nominal=nominal,
        joints=len(blocks) - 1,
        blocks=blocks,
        deviation=0,
        worst_case_error=0,
    )


def shelf(built: Stack, material: str | None = "steel") -> list[Block]:
    return [
        Block(id=block.id, nominal=block.nominal, limit_deviation=1, material=material)
        for block in built.blocks
    ]


def work(
    built: Stack,
    previous: Stack | None = None,
    *,
    material: str | None = "steel",
    goes_on: bool = False,
) -> Work:
    series = Series(blocks=built.blocks, previous=previous, goes_on=goes_on)
    return Work(stack=built, shelf=shelf(built, material), series=series)


def done(built: Stack, previous: Stack | None = None) -> tuple[Step, ...]:
    return steps(work(built, previous))


def keys(built: Stack, previous: Stack | None = None, material: str | None = "steel") -> list[str]:
    return [each.said.key for each in steps(work(built, previous, material=material))]


def wrung(built: Stack, previous: Stack | None = None) -> list[tuple[str, ...]]:
    """The blocks of each wringing."""
    joining = ("step.wring", "step.wear")
    return [each.blocks for each in done(built, previous) if each.said.key.startswith(joining)]


def test_the_way_from_the_case_and_back() -> None:
    """The order that an inspector would sign."""
    assert keys(stack("50 6 1.005")) == [
        "step.take",
        "step.compare",
        "step.normalise",
        "step.clean",
        "step.inspect",
        "step.demagnetise",
        "step.stone",
        "step.clean_again",
        "step.brush",
        "step.base",
        "step.marked",
        "step.wring",
        "step.wring_thin",
        "step.hold",
        "step.caliper",
        "step.soak",
        "step.apart",
        "step.clean_after",
        "step.preserve",
        "step.put_away",
    ]


def test_each_block_is_wrung_onto_the_one_below() -> None:
    assert wrung(stack("50 6 1.3 1.005")) == [("6", "50"), ("1.3", "6"), ("1.005", "1.3")]


def test_wear_blocks_go_on_last_outside_with_their_marked_face_outward() -> None:
    found = done(stack("20 5", wear="2 2"))

    said = [each for each in found if each.said.key == "step.wear"]
    assert [each.blocks for each in said] == [("w0", "5"), ("w1", "20")]
    assert all("marked face outward" in word(each.said) for each in said)
    assert next(each for each in found if each.said.key == "step.base").blocks == ("20",)


def test_one_block_is_not_wrung_not_soaked_again_and_not_taken_apart() -> None:
    assert "step.single" in keys(stack("25"))
    assert not {"step.soak", "step.apart"} & set(keys(stack("25")))
    assert wrung(stack("25")) == []


def test_figures_on_measuring_faces_are_minded_where_there_are_some() -> None:
    assert "step.marked" in keys(stack("20 5.5"))
    assert "step.marked" not in keys(stack("20 6"))


def test_long_blocks_lie_overnight_are_tied_and_stored_lying() -> None:
    """Before they are wrung: blocks are not left wrung overnight."""
    long = keys(stack("125 25"))

    assert long.index("step.normalise_long") < long.index("step.base") < long.index("step.tie")
    assert long[-1] == "step.store_long"
    assert not {"step.normalise_long", "step.tie", "step.store_long"} & set(keys(stack("90 5")))


def test_a_rod_goes_through_a_long_stack_only_where_all_its_blocks_are_square() -> None:
    built = stack("125 25")
    square = [structs.replace(each, section="square") for each in shelf(built)]

    def said(blocks: Sequence[Block]) -> set[str]:
        found = steps(Work(stack=built, shelf=blocks, series=alone(built)))
        return {each.said.key for each in found} & {"step.tie", "step.tie_rod"}

    assert said(square) == {"step.tie_rod"}
    assert said([square[0], *shelf(built)[1:]]) == {"step.tie"}


def test_square_blocks_are_not_laid_crosswise() -> None:
    built = stack("20 5")
    square = [structs.replace(each, section="square") for each in shelf(built)]

    def said(blocks: Sequence[Block]) -> set[str]:
        found = steps(Work(stack=built, shelf=blocks, series=alone(built)))
        return {each.said.key for each in found} & {"step.wring", "step.wring_square"}

    assert said(square) == {"step.wring_square"}
    assert said([square[0], *shelf(built)[1:]]) == {"step.wring"}


def test_a_long_stack_of_short_blocks_is_tied_too() -> None:
    assert "step.tie" in keys(stack("90 25"))
    assert "step.store_long" not in keys(stack("90 25"))


@pytest.mark.parametrize("material", ["zirconia", "tungsten-carbide", "fused-silica"])
def test_steps_for_steel_are_left_out_where_there_is_none(material: str) -> None:
    found = set(keys(stack("25 5"), material=material))

    assert not {"step.clean", "step.demagnetise", "step.stone", "step.preserve"} & found
    assert {"step.clean_uncoated", "step.chipped", "step.keep_dry"} <= found


def test_what_is_not_said_to_be_of_anything_is_of_steel() -> None:
    assert keys(stack("25 5"), material=None) == keys(stack("25 5"))


def test_of_mixed_blocks_only_those_of_steel_are_oiled() -> None:
    built = stack("25 5")
    mixed = [*shelf(stack("25"), "steel"), *shelf(stack("5"), "zirconia")]

    found = {each.said.key: each.blocks for each in steps(
        Work(stack=built, shelf=mixed, series=alone(built)))}  # fmt: skip

    assert (found["step.preserve"], found["step.keep_dry"]) == (("25",), ("5",))


def test_a_stack_that_another_is_made_from_is_left_together() -> None:
    found = [each.said.key for each in steps(work(stack("50 10"), goes_on=True))]

    assert found[-1] == "step.next"
    assert not {"step.apart", "step.preserve", "step.put_away"} & set(found)


class TestNextStack:
    def test_blocks_that_are_neighbours_in_both_stay_wrung(self) -> None:
        change = changes(stack("50 10 2 1.1"), stack("50 10 2 1.2"))

        assert [block.id for block in change.removed] == ["1.1"]
        assert [block.id for block in change.added] == ["1.2"]
        assert [[block.id for block in run] for run in change.runs] == [["50", "10", "2"]]
        assert change.wringings == 1
        assert wrung(stack("50 10 2 1.2"), stack("50 10 2 1.1")) == [("1.2", "2")]

    def test_a_block_that_comes_between_opens_one_joint(self) -> None:
        change = changes(stack("50 10 2 1.1"), stack("50 10 5 2 1.1"))

        runs = [[block.id for block in run] for run in change.runs]
        assert runs == [["50", "10"], ["2", "1.1"]]
        assert change.wringings == 2

    def test_a_wear_block_at_the_base_stays_where_it_is(self) -> None:
        change = changes(stack("50 10", wear="2 2"), stack("50 5", wear="2 2"))

        assert [[block.id for block in run] for run in change.runs] == [["w1", "50"]]
        assert wrung(stack("50 5", wear="2 2"), stack("50 10", wear="2 2")) == [
            ("5", "50"),
            ("w0", "5"),
        ]

    def test_the_same_stack_is_used_again(self) -> None:
        again = keys(stack("50 10"), stack("50 10"))

        assert again[0] == "step.same"
        assert not {"step.clean", "step.base", "step.wring", "step.soak"} & set(again)

    def test_what_lies_ready_is_wiped_and_neither_cleaned_nor_soaked_again(self) -> None:
        found = keys(stack("50 10 2"), stack("50 10"))

        assert {"step.add", "step.wipe", "step.brush"} <= set(found)
        assert not {"step.clean", "step.inspect", "step.normalise", "step.soak"} & set(found)

    def test_blocks_only_taken_off_need_no_cleaning(self) -> None:
        assert "step.wipe" not in keys(stack("50 10"), stack("50 10 2"))
        assert "step.take_off" in keys(stack("50 10"), stack("50 10 2"))

    def test_nothing_in_common_is_a_new_stack(self) -> None:
        change = changes(stack("50 10"), stack("40 20"))

        assert change.kept == ()
        assert change.runs == ()
        assert change.wringings == 1


@pytest.mark.parametrize(
    ("text", "material", "minutes", "again"),
    [
        ("2", "steel", 20, 20),
        ("20 10", "steel", 50, 20),
        ("25", "steel", 60, 20),
        ("50 10", "steel", 120, 20),
        ("500", "steel", 180, 20),
        ("25", "zirconia", 120, 40),
        ("100", "zirconia", 180, 40),
    ],
)
def test_soaking_by_the_largest_block_and_material(
    text: str, material: str, minutes: int, again: int
) -> None:
    """An hour for each 25 mm, 20 minutes at least, 3 hours at most; from memory, rule of thumb."""
    blocks = shelf(stack(text), material)

    assert normalising_minutes(blocks) == minutes
    assert soaking_minutes(blocks) == again


def test_waiting_says_that_it_is_a_rule_of_thumb() -> None:
    said = [
        word(each.said) for each in done(stack("125 25")) if each.phase in ("normalise", "soak")
    ]

    assert len(said) == 3
    assert all("rule of thumb" in text for text in said)


def cautions(built: Stack, own: Sequence[str] = (), material: str = "steel") -> list[str]:
    found = instructions(work(built, material=material), cautions=own).cautions
    return [said.key.removeprefix("caution.") for said in found]


def test_cautions_belong_to_stack_and_use() -> None:
    small, long = stack("10 2"), stack("100 25")

    assert cautions(small) == ["solvent", "calibration"]
    assert cautions(small, ["caution.spindle"])[0] == "spindle"
    assert {"heavy", "airy"} <= set(cautions(long))
    assert "brittle" in cautions(small, material="zirconia")


def test_a_caution_stands_once() -> None:
    assert cautions(stack("10 2"), ["caution.solvent"]).count("solvent") == 1


def test_a_stack_that_stands_upright_needs_no_supports() -> None:
    found = instructions(work(stack("100 25")), stands=True).cautions

    assert "caution.airy" not in {said.key for said in found}
    assert "caution.heavy" in {said.key for said in found}


@pytest.mark.parametrize(
    ("text", "reading", "give"),
    [
        ("10 1.005", "11.01 mm", "0.03 mm"),
        ("100", "100 mm", "0.03 mm"),
        ("100 1.005", "101.01 mm", "0.04 mm"),
        ("500 125", "625 mm", "0.05 mm"),
    ],
)
def test_a_caliper_is_given_its_own_limit_and_a_step(text: str, reading: str, give: str) -> None:
    """DIN 862 permits a fine caliper 20 µm to 100 mm, 30 to 600, 40 to 1000; see check_points."""
    (check,) = [each for each in done(stack(text)) if each.phase == "check"]

    assert f"should show {reading}, give or take {give}" in word(check.said)
    assert word(check.said).startswith("Rough check")


def test_beyond_all_calipers_there_is_no_rough_check() -> None:
    assert "step.caliper" not in keys(stack("1000 25"))


def test_a_bench_in_inches_reads_inches_off_metric_blocks() -> None:
    """Steps of 0.0005 in; DIN 862's 20 µm is 0.0008 in, so 0.0015 in with a step, rounded up."""
    built = stack("10 1.005")

    (check,) = [
        each for each in steps(structs.replace(work(built), unit="in")) if each.phase == "check"
    ]

    assert "should show 0.4335 in, give or take 0.0015 in" in word(check.said, unit="in")


@pytest.mark.parametrize(
    ("angle_text", "reading", "give"),
    [
        ("26", "26°00'", "5'"),
        ("26°12'", "26°10'", "10'"),
        ("26°13'", "26°15'", "10'"),
        ("0°3'", "5'", "10'"),
        ("89°59'59\"", "90°00'", "10'"),
    ],
)
def test_a_bevel_protractor_reads_five_minutes(angle_text: str, reading: str, give: str) -> None:
    found = protractor_reading(angle(angle_text))

    assert found is not None
    assert (to_minutes(found.reading), to_minutes(found.give)) == (reading, give)


def test_an_angle_that_no_protractor_reads_has_no_rough_check() -> None:
    assert protractor_reading(angle("0°2'")) is None
