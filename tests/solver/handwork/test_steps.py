"""What the hands do for one stack; common practice, no source, unless a test says otherwise."""

from collections.abc import Sequence

import pytest

from wrung.answers import PlacedBlock, Stack
from wrung.blocks import Block
from wrung.handwork.changes import changes
from wrung.handwork.instructions import instructions
from wrung.handwork.order import wringing_order
from wrung.handwork.soaking import soaking_minutes
from wrung.handwork.steps import steps
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


def shelf(built: Stack, material: str = "steel") -> list[Block]:
    return [
        Block(id=block.id, nominal=block.nominal, limit_deviation=1, material=material)
        for block in built.blocks
    ]


def keys(built: Stack, previous: Stack | None = None) -> list[str]:
    return [each.said.key for each in steps(built, shelf(built), previous)]


def wrung(built: Stack, previous: Stack | None = None) -> list[tuple[str, ...]]:
    """The blocks of each wringing."""
    found = steps(built, shelf(built), previous)
    return [
        each.blocks for each in found if "wring" in each.said.key or "wear_top" in each.said.key
    ]


def test_the_way_from_the_case_and_back() -> None:
    assert keys(stack("50 6 1.005")) == [
        "step.take",
        "step.compare",
        "step.clean",
        "step.inspect",
        "step.dust",
        "step.base",
        "step.marked",
        "step.wring",
        "step.wring_thin",
        "step.hold",
        "step.soak",
        "step.caliper",
        "step.apart",
        "step.recoat",
    ]


def test_each_block_is_wrung_onto_the_one_below() -> None:
    assert wrung(stack("50 6 1.3 1.005")) == [("6", "50"), ("1.3", "6"), ("1.005", "1.3")]


def test_wear_blocks_go_outermost_with_their_marked_face_outward() -> None:
    found = steps(stack("20 5", wear="2 2"), ())

    said = [each for each in found if each.said.key.startswith("step.wear")]
    assert [(each.said.key, each.blocks[0]) for each in said] == [
        ("step.wear_base", "w0"),
        ("step.wear_top", "w1"),
    ]
    assert all("marked face outward" in word(each.said) for each in said)


def test_one_block_is_not_wrung_and_not_taken_apart() -> None:
    assert "step.single" in keys(stack("25"))
    assert "step.apart" not in keys(stack("25"))
    assert wrung(stack("25")) == []


def test_figures_on_measuring_faces_are_minded_where_there_are_some() -> None:
    assert "step.marked" in keys(stack("20 5.5"))
    assert "step.marked" not in keys(stack("20 6"))


def test_long_blocks_lie_overnight_before_they_are_wrung() -> None:
    """Blocks are not left wrung overnight."""
    long = keys(stack("100 25"))

    assert long.index("step.soak_overnight") < long.index("step.base") < long.index("step.soak")


def test_a_stack_that_another_is_made_from_is_left_together() -> None:
    built = stack("50 10")
    found = [each.said.key for each in steps(built, shelf(built), goes_on=True)]

    assert found[-1] == "step.next"
    assert not {"step.apart", "step.recoat"} & set(found)


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

    def test_the_same_stack_is_used_again(self) -> None:
        again = keys(stack("50 10"), stack("50 10"))

        assert again[0] == "step.same"
        assert not {"step.clean", "step.base", "step.wring", "step.soak"} & set(again)

    def test_blocks_only_taken_off_need_no_cleaning(self) -> None:
        assert "step.clean" not in keys(stack("50 10"), stack("50 10 2"))
        assert "step.take_off" in keys(stack("50 10"), stack("50 10 2"))

    def test_nothing_in_common_is_a_new_stack(self) -> None:
        change = changes(stack("50 10"), stack("40 20"))

        assert change.kept == ()
        assert change.runs == ()
        assert change.wringings == 1


@pytest.mark.parametrize(
    ("text", "material", "minutes"),
    [
        ("2", "steel", 20),
        ("20", "steel", 50),
        ("25", "steel", 60),
        ("50 10", "steel", 150),
        ("500", "steel", 180),
        ("25", "zirconia", 120),
    ],
)
def test_soaking_by_length_and_material(text: str, material: str, minutes: int) -> None:
    """An hour for each 25 mm, 20 minutes at least, 3 hours at most; from memory, rule of thumb."""
    built = stack(text)

    assert soaking_minutes(built, shelf(built, material)) == minutes


def test_soaking_says_that_it_is_a_rule_of_thumb() -> None:
    long = steps(stack("100 25"), ())

    said = [word(each.said) for each in long if each.phase == "soak"]
    assert len(said) == 2
    assert all("rule of thumb" in text for text in said)


def cautions(built: Stack, blocks: Sequence[Block], own: Sequence[str] = ()) -> list[str]:
    found = instructions(built, blocks, cautions=own).cautions
    return [said.key.removeprefix("caution.") for said in found]


def test_cautions_belong_to_stack_and_use() -> None:
    small, long = stack("10 2"), stack("100 25")

    assert cautions(small, shelf(small)) == ["burr", "solvent", "calibration"]
    assert cautions(small, shelf(small), ["caution.spindle"])[0] == "spindle"
    assert {"heavy", "airy"} <= set(cautions(long, shelf(long)))
    assert "brittle" in cautions(small, shelf(small, "zirconia"))


def test_the_caliper_is_read_to_its_resolution() -> None:
    built = stack("10 1.005")

    (check,) = [each for each in steps(built, ()) if each.phase == "check"]
    assert "11.01 mm" in word(check.said)
