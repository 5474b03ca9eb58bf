"""Gauge sets: from a composition and what is missing to single blocks."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung.blocks import Block, margin
from wrung.compositions import Composition, all_compositions, composition
from wrung.errors import InputError
from wrung.gauge_sets import GaugeSet
from wrung.lengths import inch, mm, parse, uin, um

COMPOSITIONS = st.sampled_from(all_compositions())


def pointers(gauge_set: GaugeSet) -> list[str]:
    with pytest.raises(InputError) as caught:
        gauge_set.blocks()
    return [fault.pointer for fault in caught.value.faults]


def ids(gauge_set: GaugeSet) -> list[str]:
    return [block.id for block in gauge_set.blocks()]


class TestBlocks:
    def test_a_block_carries_what_its_set_says(self) -> None:
        bench = GaugeSet(id="bench-3", composition="inch-81", grade="AS-1", material="steel")

        block = bench.blocks()[4]

        assert block == Block(
            id="bench-3/0.1003",
            nominal=inch("0.1003"),
            grade="AS-1",
            material="steel",
            set="bench-3",
            unit="in",
            section="rectangular",
        )
        assert margin(block) == uin("8")

    @given(COMPOSITIONS, st.data())
    def test_all_blocks_but_the_missing_are_there_and_each_id_says_the_length(
        self, delivered: Composition, data: st.DataObject
    ) -> None:
        missing = data.draw(st.lists(st.sampled_from(delivered.nominals), unique=True))
        gauge_set = GaugeSet(
            id="s", composition=delivered.id, limit_deviation=1, missing=tuple(missing)
        )

        blocks = gauge_set.blocks()

        found = Counter(block.nominal for block in blocks)
        assert found == Counter(delivered.nominals) - Counter(missing)
        assert len({block.id for block in blocks}) == len(blocks)
        for block in blocks:
            text = block.id.removeprefix("s/").partition("#")[0]
            assert parse(text, delivered.unit) == block.nominal
            assert (block.unit, block.role, block.set) == (delivered.unit, delivered.role, "s")

    def test_an_alias_gives_the_blocks_of_the_composition_it_means(self) -> None:
        by_alias = GaugeSet(id="s", composition="metric-112", grade="1")
        by_id = GaugeSet(id="s", composition="metric-112-1", grade="1")

        assert by_alias.blocks() == by_id.blocks()
        assert len(by_id.blocks()) == 112

    def test_a_limit_deviation_goes_before_the_grade(self) -> None:
        """Then the grade need not cover the blocks, nor be one of the tables."""
        old = GaugeSet(
            id="old", composition="metric-32", grade="workshop", limit_deviation=um("1.5")
        )

        assert {margin(block) for block in old.blocks()} == {um("1.5")}

    def test_a_grade_with_unequal_limits_gives_the_larger(self) -> None:
        """The federal grade 3 allows +8/-4 uin up to 1 in."""
        old = GaugeSet(id="old", composition="inch-28", grade="3")

        assert {margin(block) for block in old.blocks()} == {uin("8")}


class TestIds:
    def test_a_second_block_of_one_length_is_numbered(self) -> None:
        pair = GaugeSet(id="w", composition="wear-inch-050", grade="K")

        assert ids(pair) == ["w/0.05", "w/0.05#2"]

    def test_of_several_of_one_length_the_last_is_the_missing_one(self) -> None:
        pair = GaugeSet(id="w", composition="wear-metric-2-5", grade="0", missing=(mm("2.5"),))

        assert ids(pair) == ["w/2.5"]

    def test_a_block_keeps_its_id_whatever_is_missing(self) -> None:
        """An id that moved to another block would mix up their certificates."""
        wear = (inch("0.05"), inch("0.05"))
        whole = GaugeSet(id="b", composition="inch-81", grade="0", wear_block_nominals=wear)
        less = GaugeSet(
            id="b",
            composition="inch-81",
            grade="0",
            wear_block_nominals=wear,
            missing=(inch("0.05"),),
        )

        assert ids(whole)[0] == "b/0.05"
        assert ids(whole)[-2:] == ids(less)[-2:] == ["b/0.05#2", "b/0.05#3"]
        assert set(whole.blocks()) - set(less.blocks()) == {whole.blocks()[0]}

    def test_lengths_are_written_without_trailing_zeros(self) -> None:
        bench = GaugeSet(id="b", composition="metric-88", grade="0")

        assert {"b/1.0005", "b/1.1", "b/0.5", "b/10", "b/100"} <= set(ids(bench))


class TestWearBlocks:
    def test_a_composition_of_wear_blocks_gives_wear_blocks(self) -> None:
        pair = GaugeSet(id="w", composition="wear-metric-1", grade="0", material="tungsten-carbide")

        assert [(b.role, b.nominal, b.material) for b in pair.blocks()] == [
            ("wear", mm("1"), "tungsten-carbide")
        ] * 2

    def test_wear_blocks_kept_with_a_set_are_wear_blocks(self) -> None:
        bench = GaugeSet(
            id="b", composition="metric-47-a", grade="1", wear_block_nominals=(mm("2"), mm("2"))
        )

        roles = Counter((block.role, block.nominal) for block in bench.blocks())

        assert roles["wear", mm("2")] == 2
        assert roles["gauge", mm("2")] == 1
        assert len(bench.blocks()) == 49


class TestFaults:
    @pytest.mark.parametrize("name", ["inch-82", "metric-47", ""])
    def test_an_unknown_composition(self, name: str) -> None:
        """Without it nothing else can be judged, so it is reported alone."""
        assert pointers(GaugeSet(id="s", composition=name, material="cheese")) == ["/composition"]

    def test_a_missing_block_that_was_never_there(self) -> None:
        bench = GaugeSet(
            id="s", composition="inch-81", grade="0", missing=(inch("0.1004"), inch("0.1011"))
        )

        with pytest.raises(InputError, match=r"inch-81 has no block of 0\.1011 in") as caught:
            bench.blocks()

        assert [fault.pointer for fault in caught.value.faults] == ["/missing/1"]

    def test_a_block_missing_more_often_than_it_is_there(self) -> None:
        bench = GaugeSet(
            id="s", composition="inch-81", grade="0", missing=(inch("1"), inch("2"), inch("1"))
        )

        with pytest.raises(InputError, match="inch-81 has 1 block of 1 in") as caught:
            bench.blocks()

        assert [fault.pointer for fault in caught.value.faults] == ["/missing/2"]

    @pytest.mark.parametrize("nominal", [0, -mm("1"), 1])
    def test_a_missing_length_that_no_block_can_have(self, nominal: int) -> None:
        bench = GaugeSet(id="s", composition="metric-45", grade="0", missing=(nominal,))

        assert pointers(bench) == ["/missing/0"]

    def test_an_unknown_grade_and_one_of_the_other_unit(self) -> None:
        assert pointers(GaugeSet(id="s", composition="inch-81", grade="Z")) == ["/grade"]
        assert pointers(GaugeSet(id="s", composition="metric-45", grade="0.5")) == ["/grade"]

    def test_a_grade_that_does_not_cover_every_block(self) -> None:
        """The federal grade 0.5 ends at 4 in."""
        long = GaugeSet(id="s", composition="inch-long-8", grade="0.5")

        assert pointers(long) == ["/grade"]

    def test_a_grade_need_not_cover_a_block_that_is_missing(self) -> None:
        delivered = composition("inch-long-8")
        beyond = tuple(nominal for nominal in delivered.nominals if nominal > inch("12"))
        long = GaugeSet(id="s", composition="inch-long-8", grade="AS-1", missing=beyond)

        assert len(long.blocks()) == 6

    def test_a_wear_block_that_the_grade_does_not_cover_or_that_has_no_length(self) -> None:
        bench = GaugeSet(
            id="s",
            composition="metric-45",
            grade="0",
            wear_block_nominals=(mm("2"), mm("0.4"), 0, -1),
        )

        assert sorted(pointers(bench)) == [
            "/wear_block_nominals/1",
            "/wear_block_nominals/2",
            "/wear_block_nominals/3",
        ]

    def test_no_statement_of_its_error(self) -> None:
        assert pointers(GaugeSet(id="s", composition="metric-45")) == [""]

    def test_a_negative_limit_deviation(self) -> None:
        bench = GaugeSet(id="s", composition="metric-45", limit_deviation=-1)

        assert pointers(bench) == ["/limit_deviation"]

    def test_all_faults_come_at_once(self) -> None:
        bench = GaugeSet(
            id="s",
            composition="metric-45",
            grade="Z",
            material="cheese",
            missing=(mm("3.3"), mm("1"), mm("4.4")),
            wear_block_nominals=(0,),
        )

        assert sorted(pointers(bench)) == [
            "/grade",
            "/material",
            "/missing/0",
            "/missing/2",
            "/wear_block_nominals/0",
        ]


def test_blocks_know_the_section_of_their_set_and_wear_blocks_kept_with_it_do_not() -> None:
    square = GaugeSet(
        id="s", composition="inch-81-square", grade="AS-1", wear_block_nominals=(inch("0.05"),)
    )

    assert {(block.role, block.section) for block in square.blocks()} == {
        ("gauge", "square"),
        ("wear", None),
    }
