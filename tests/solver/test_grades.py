"""Grades: which row holds, and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung import grades
from wrung.errors import Fault, InputError
from wrung.grades import Grade, GradeRow, all_grades, limits
from wrung.lengths import Unit, inch, mm, uin, um

GRADES = st.sampled_from(all_grades())


def only_fault(error: InputError) -> Fault:
    (fault,) = error.faults
    return fault


class TestRanges:
    @pytest.mark.parametrize(
        ("nominal", "expected"),
        [
            ("0.5", "0.12"),  # the first range includes its lower edge
            ("10", "0.12"),  # up to and including
            ("10.00000001", "0.14"),  # over, by one quantum
            ("25", "0.14"),
            ("50", "0.20"),
            ("75", "0.25"),
            ("100", "0.30"),
            ("1000", "2.00"),
        ],
    )
    def test_metric_edges_belong_to_the_lower_range(self, nominal: str, expected: str) -> None:
        assert grades.grade("0", "mm").row(mm(nominal)).limit_deviation == um(expected)

    @pytest.mark.parametrize(
        ("nominal", "expected"),
        [
            ("0.010", "12"),
            ("0.05", "12"),
            ("0.0500001", "8"),
            ("0.4", "8"),
            ("0.4000001", "12"),  # the table prints 0.45, between which no block is made
            ("0.45", "12"),
            ("1", "12"),
            ("20", "88"),
        ],
    )
    def test_inch_edges_belong_to_the_lower_range(self, nominal: str, expected: str) -> None:
        assert grades.grade("AS-1", "in").row(inch(nominal)).limit_deviation == uin(expected)

    @given(GRADES, st.data())
    def test_the_row_found_is_the_one_whose_range_holds_the_nominal(
        self, grade: Grade, data: st.DataObject
    ) -> None:
        low, high = grade.rows[0].over, grade.rows[-1].up_to
        edges = st.sampled_from([row.up_to for row in grade.rows])
        nominal = data.draw(st.integers(low, high) | edges)

        row = grade.row(nominal)

        assert row.over < nominal <= row.up_to or nominal == low == row.over
        assert [row] == [r for r in grade.rows if r.over < nominal <= r.up_to] or nominal == low

    @given(GRADES, st.integers(-(10**12), 10**12))
    def test_a_nominal_is_covered_or_refused(self, grade: Grade, nominal: int) -> None:
        if grade.covers(nominal):
            assert grade.row(nominal) in grade.rows
        else:
            with pytest.raises(InputError):
                grade.row(nominal)

    @pytest.mark.parametrize(
        ("name", "nominal", "unit", "said"),
        [
            ("1", mm("0.49999999"), "mm", "0.5 to 1000 mm, not for 0.49999999 mm"),
            ("1", mm("1000.00000001"), "mm", "0.5 to 1000 mm, not for 1000.00000001 mm"),
            ("AS-1", inch("0.009"), "in", "0.01 to 20 in, not for 0.009 in"),
            ("0.5", inch("5"), "in", "0.01 to 4 in, not for 5 in"),
        ],
    )
    def test_outside_the_ranges_the_nominal_is_pointed_at(
        self, name: str, nominal: int, unit: Unit, said: str
    ) -> None:
        with pytest.raises(InputError) as caught:
            limits(name, nominal, unit)

        fault = only_fault(caught.value)
        assert fault.pointer == "/nominal"
        assert said in fault.detail

    @pytest.mark.parametrize("nominal", [0, -1, -mm("10")])
    def test_no_grade_has_limits_for_nothing_or_less(self, nominal: int) -> None:
        assert not any(grade.covers(nominal) for grade in all_grades())


class TestNames:
    def test_the_unit_decides_which_grade_a_number_means(self) -> None:
        """Grade 2 of ISO 3650 is 0.60 um at 25 mm; the federal grade 2 is 4 uin at 1 in."""
        assert grades.grade("2", "mm").row(mm("25")).limit_deviation == um("0.60")
        assert grades.grade("2", "in").row(inch("1")).limit_deviation == uin("4")
        assert grades.grade("2", "mm").standard != grades.grade("2", "in").standard

    @pytest.mark.parametrize("name", ["k", "as-1", "AS-3", "", " 0", "0.50", "um-0", "B"])
    @pytest.mark.parametrize("unit", ["mm", "in"])
    def test_an_unknown_name_is_pointed_at_with_those_there_are(
        self, name: str, unit: Unit
    ) -> None:
        with pytest.raises(InputError) as caught:
            limits(name, inch("1"), unit)

        fault = only_fault(caught.value)
        known = [grade.name for grade in all_grades() if grade.unit == unit]
        assert fault.pointer == "/grade"
        assert fault.detail.endswith("; there are " + ", ".join(known))

    @pytest.mark.parametrize("known", all_grades(), ids=lambda known: known.id)
    def test_the_id_of_the_list_is_as_good_as_the_name(self, known: Grade) -> None:
        assert grades.grade(known.id, known.unit) == grades.grade(known.name, known.unit) == known

    def test_an_id_of_the_other_unit_is_refused_for_that_reason(self) -> None:
        with pytest.raises(InputError, match="mm-K is for blocks marked in millimetres, not in"):
            grades.grade("mm-K", "in")

    def test_the_nearest_known_names_are_told(self) -> None:
        with pytest.raises(InputError, match="the nearest known is AS-1"):
            grades.grade("AS1", "in")

    def test_ids_are_unique(self) -> None:
        ids = [grade.id for grade in all_grades()]

        assert len(ids) == len(set(ids))
        assert {"mm-K", "mm-0", "in-AS-1", "in-0.5"} <= set(ids)

    @pytest.mark.parametrize("grade", all_grades(), ids=lambda grade: grade.id)
    def test_every_grade_states_its_source_and_whether_it_was_checked(self, grade: Grade) -> None:
        assert grade.standard
        assert grade.source
        assert ("from memory" in grade.source.lower()) == (grade.checked == "no")


class TestFigures:
    def test_unequal_limits_keep_their_signs(self) -> None:
        """The federal grade 3 allows +8/-4 uin up to 1 in."""
        found = limits("3", inch("0.5"), "in")

        assert (found.upper, found.lower) == (uin("8"), -uin("4"))

    @pytest.mark.parametrize(("plus", "minus"), [(8, 4), (4, 8), (8, 8)])
    def test_the_larger_limit_counts_on_either_side(self, plus: int, minus: int) -> None:
        assert GradeRow(over=1, up_to=2, plus=plus, minus=minus).limit_deviation == 8

    @given(GRADES, st.data())
    def test_limit_deviation_is_the_larger_limit(self, grade: Grade, data: st.DataObject) -> None:
        nominal = data.draw(st.integers(grade.rows[0].over, grade.rows[-1].up_to))

        found = limits(grade.name, nominal, grade.unit)

        largest = grade.row(nominal).limit_deviation
        assert found.lower < 0 < found.upper
        assert largest == max(found.upper, -found.lower)

    @pytest.mark.parametrize("grade", all_grades(), ids=lambda grade: grade.id)
    def test_limits_and_variation_grow_with_length_and_variation_stays_below_both_limits(
        self, grade: Grade
    ) -> None:
        """All longer ranges allow as much or more, but for thin inch blocks, which bend.

        Variation may not exceed the whole width between the limits, or no block could have it.
        """
        rows = grade.rows[1:] if grade.unit == "in" else grade.rows
        for member in ("plus", "minus", "variation"):
            figures = [getattr(row, member) or 0 for row in rows]
            assert figures == sorted(figures)
        assert all((row.variation or 0) <= row.plus + row.minus for row in rows)

    def test_variation_in_length(self) -> None:
        """ISO 3650 grade K: 0.05 um to 25 mm, 0.06 um over it."""
        assert grades.grade("K", "mm").row(mm("25")).variation == um("0.05")
        assert grades.grade("K", "mm").row(mm("25.00000001")).variation == um("0.06")

    def test_variation_is_not_invented_where_the_table_has_none(self) -> None:
        """The federal table gives none."""
        assert grades.grade("1", "in").row(inch("1")).variation is None
