"""Blocks outside their grade, and limits from memory: remarked on, and nothing else is."""

import pytest
from msgspec.structs import replace

from wrung.blocks import Block
from wrung.calibrations import Calibration
from wrung.lengths import inch, mm, uin, um
from wrung.metrology.block_remarks import certified_remarks, grade_remarks
from wrung.texts import word

# ISO 3650, grade 0, 10 to 25 mm: 0.14 µm and 0.10 µm (two copies on the web, see the tables).
BLOCK = Block(
    id="0/20",
    nominal=mm("20"),
    deviation=um("0.14"),
    expanded_uncertainty=um("0.05"),
    grade="0",
    calibration=Calibration(variation=um("0.10")),
)


def keys(block: Block) -> list[str]:
    return [said.key for said in certified_remarks([block])]


class TestOutsideItsGrade:
    def test_on_its_limits_a_block_is_within(self) -> None:
        assert keys(BLOCK) == []
        assert keys(replace(BLOCK, deviation=-um("0.14"))) == []

    @pytest.mark.parametrize("deviation", ["+0.1401", "-0.15"])
    def test_beyond_its_limits(self, deviation: str) -> None:
        size = um(deviation[1:]) * (-1 if deviation.startswith("-") else 1)

        (said,) = certified_remarks([replace(BLOCK, deviation=size)])

        assert said.key == "block.outside_limits"
        assert f"{deviation} µm is not within -0.14 µm to +0.14 µm" in word(said)

    def test_beyond_its_variation(self) -> None:
        worn = replace(BLOCK, calibration=Calibration(variation=um("0.12")))

        (said,) = certified_remarks([worn])

        assert said.key == "block.outside_variation"
        assert "0.12 µm is more than the 0.1 µm of grade 0" in word(said)

    def test_unequal_limits_are_taken_as_they_are(self) -> None:
        """GGG-G-15C grade 3 at 1 in: +8, -4 µin (from memory)."""
        old = Block(
            id="o",
            nominal=inch("1"),
            unit="in",
            grade="3",
            deviation=uin("7"),
            expanded_uncertainty=uin("2"),
        )

        assert keys(old) == []
        assert keys(replace(old, deviation=-uin("5"))) == ["block.outside_limits"]

    @pytest.mark.parametrize(
        "block",
        [
            replace(BLOCK, grade=None, deviation=um("9")),
            # The grade says nothing of so long a block.
            replace(BLOCK, nominal=mm("1200"), deviation=um("9")),
            Block(id="u", nominal=mm("20"), grade="2"),
        ],
    )
    def test_where_there_is_nothing_to_hold_it_against(self, block: Block) -> None:
        assert keys(block) == []


class TestFromMemory:
    def inch_block(self, grade: str, nominal: str = "0.5") -> Block:
        return Block(id=nominal, nominal=inch(nominal), unit="in", grade=grade)

    def test_grades_are_named_once(self) -> None:
        blocks = [self.inch_block("AS-1", nominal) for nominal in ("0.5", "0.25", "1")]

        (said,) = grade_remarks([*blocks, self.inch_block("0")])

        assert said.key == "grade.from_memory"
        assert "0 (ASME B89.1.9-2002, in), AS-1 (ASME B89.1.9-2002, in)" in word(said)

    def test_a_row_that_breaks_its_pattern_is_named(self) -> None:
        keys_ = [said.key for said in grade_remarks([self.inch_block("K", "0.25")])]

        assert keys_ == ["grade.from_memory", "grade.doubtful"]
        assert len(grade_remarks([self.inch_block("K", "0.5")])) == 1

    @pytest.mark.parametrize(
        "block",
        [
            Block(id="c", nominal=mm("20"), grade="1"),
            Block(id="l", nominal=inch("1"), unit="in", grade="AS-1", limit_deviation=uin("9")),
            Block(
                id="d",
                nominal=inch("1"),
                unit="in",
                grade="AS-1",
                deviation=0,
                expanded_uncertainty=uin("2"),
            ),
        ],
    )
    def test_not_where_other_figures_decide(self, block: Block) -> None:
        assert grade_remarks([block]) == ()
