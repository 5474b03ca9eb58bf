"""Certificates as CSV and JSON: what is read, what is ignored, what is refused, all or nothing."""

import json
from collections.abc import Callable
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung.blocks import Block
from wrung.calibrations import Calibration
from wrung.errors import InputError
from wrung.lengths import inch, mm, uin, um
from wrung.metrology.certificates import (
    COLUMNS,
    CertificateImport,
    apply_certificates,
    read_certificate,
)
from wrung.metrology.certificates.limits import MOST_BLOCKS, MOST_BYTES

FIGURES = "id,nominal,deviation,expanded_uncertainty"
HEADER = f"{FIGURES},coverage_factor,certificate,calibrated_on,due_on"
LINE = "K1/1.005,1.005,0.03,0.05,2.1,2026-0417,2026-03-31,2027-03-31"
EXPECTED = Block(
    id="K1/1.005",
    nominal=mm("1.005"),
    deviation=um("0.03"),
    expanded_uncertainty=um("0.05"),
    calibration=Calibration(
        certificate="2026-0417",
        calibrated_on=date(2026, 3, 31),
        due_on=date(2027, 3, 31),
        coverage_factor=2.1,
    ),
)


def csv(*lines: str) -> CertificateImport:
    return read_certificate("\n".join(lines).encode(), "csv")


def in_json(document: object) -> CertificateImport:
    return read_certificate(json.dumps(document).encode(), "json")


def why(found: CertificateImport) -> str:
    assert found.blocks == ()
    return "; ".join(f"{remark.location} {remark.text}" for remark in found.refused)


class TestCsv:
    def test_a_line_is_a_block(self) -> None:
        assert csv(HEADER, LINE).blocks == (EXPECTED,)

    @pytest.mark.parametrize("separator", [";", "\t"])
    def test_other_separators(self, separator: str) -> None:
        text = (HEADER + "\r\n" + LINE + "\r\n").replace(",", separator)

        assert read_certificate(b"\xef\xbb\xbf" + text.encode(), "csv").blocks == (EXPECTED,)

    @pytest.mark.parametrize("separator", [";", "\t"])
    def test_a_whole_file_with_decimal_commas(self, separator: str) -> None:
        """As a spreadsheet set to German writes it."""
        header = HEADER.upper().replace(",", separator)
        name, *figures = LINE.split(",")
        line = separator.join([name, *(figure.replace(".", ",") for figure in figures)])

        found = read_certificate(f"\ufeff{header}\r\n{line}\r\n".encode(), "csv")

        assert found.blocks == (EXPECTED,)

    @pytest.mark.parametrize("change", [str.upper, str.title, lambda text: text.replace("_", " ")])
    def test_headings_in_any_case(self, change: Callable[[str], str]) -> None:
        assert csv(change(HEADER), LINE).blocks == (EXPECTED,)

    def test_the_line_that_names_the_separator_is_skipped(self) -> None:
        assert csv("sep=;", HEADER.replace(",", ";"), LINE.replace(",", ";")).blocks == (EXPECTED,)

    def test_serial_numbers_are_kept(self) -> None:
        (block,) = csv(f"{FIGURES},serial", "a,1,0,0.05,40417").blocks

        assert block.serial == "40417"

    def test_inches_and_every_other_column(self) -> None:
        header = "id,nominal,unit,deviation,standard_uncertainty,degrees_of_freedom,variation"
        more = "grade,material,set,role,laboratory,expansion,expansion_uncertainty"

        (block,) = csv(
            f"{header},{more}", "a,0.1001,in,-1.5,1,50,2,0,steel,S1,wear,Lindenhof,10.9,0.2"
        ).blocks

        assert (block.nominal, block.deviation, block.unit) == (inch("0.1001"), uin("-1.5"), "in")
        assert (block.grade, block.material, block.set, block.role) == ("0", "steel", "S1", "wear")
        calibration = block.calibration
        assert calibration is not None
        assert (calibration.variation, calibration.degrees_of_freedom) == (uin("2"), 50.0)
        assert (calibration.expansion, calibration.expansion_uncertainty) == (10.9, 0.2)
        # U = k u, with k = 2.05 for 50 degrees of freedom (GUM table G.2), and back again.
        assert block.expanded_uncertainty == pytest.approx(2.05 * 2540, rel=3e-3)
        assert (block.expanded_uncertainty or 0) / calibration.coverage_factor == 2540

    @pytest.mark.parametrize(
        ("unit", "nominal", "base", "growth", "expected"),
        [
            # U = 0.05 um + 0.5e-6 L, as laboratories state their least uncertainty: 0.1 um at 100.
            ("mm", "100", "0.05", "0.5", um("0.1")),
            ("mm", "1.005", "0.05", "0.5", um("0.05051")),
            # U = 2 uin + 1 uin an inch: 6 uin at 4 in.
            ("in", "4", "2", "1", uin("6")),
            ("mm", "25", "0.05", "0", um("0.05")),
        ],
    )
    def test_an_uncertainty_that_grows_with_the_length(
        self, unit: str, nominal: str, base: str, growth: str, expected: int
    ) -> None:
        """Worked out by hand; rounded up to a quantum."""
        header = "id,unit,nominal,deviation,expanded_uncertainty,expanded_uncertainty_per_length"

        (block,) = csv(header, f"a,{unit},{nominal},0,{base},{growth}").blocks

        assert block.expanded_uncertainty == expected

    def test_growth_needs_what_it_is_added_to(self) -> None:
        header = "id,nominal,deviation,expanded_uncertainty_per_length"

        assert "needs the expanded_uncertainty" in why(csv(header, "a,1,0,0.5"))

    def test_unknown_columns_are_ignored_and_told(self) -> None:
        found = csv(HEADER + ",colour", LINE + ",blue")

        assert found.blocks == (EXPECTED,)
        assert [remark.location for remark in found.ignored] == ["column 'colour'"]

    def test_empty_fields_and_lines_state_nothing(self) -> None:
        found = csv(HEADER, "K1/1.005,1.005,0.03,0.05,,,,", ",,,,,,,", "")

        (block,) = found.blocks
        assert block.calibration == Calibration()

    @pytest.mark.parametrize(
        ("lines", "reason"),
        [
            (("id;nominal;deviation", "a;1,005;0.03"), "'1,005' has a decimal comma, and '0.03'"),
            (("id;nominal;deviation", "a;1,005.5;3"), "has a decimal comma"),
            (
                (HEADER, "a,1,005,0.03,0.05,2,4711,,"),
                "9 fields where line 1 has 8; if dec",
            ),
            ((HEADER, "a,1,0.03,0.05"), "4 fields where line 1 has 8"),
            (("nominal,deviation",), "line 1 has no column id"),
            (("Id,Nomnal,deviation",), "the nearest found is nomnal. Found: 'Id', 'Nomnal', 'dev"),
            (("number,size",), "Known: id, nominal, unit, deviation, expanded_uncertainty"),
            (("ID,id,nominal,deviation",), "names the column id twice"),
            (("id,id,nominal,deviation",), "names the column id twice"),
            ((HEADER,), "states no gauge block"),
            ((), "has no column id"),
            ((HEADER, LINE, LINE), "line 3, id 'K1/1.005' is used twice"),
            ((HEADER, ",1,0,0.05,,,,"), "line 2, id is missing"),
            ((HEADER, "a,1,0,,,,,"), "expanded_uncertainty is missing"),
            ((HEADER, "a,0,0,0.05,,,,"), "nominal must be greater than zero"),
            ((HEADER, "a,-1,0,0.05,,,,"), "nominal -1 mm is negative"),
            ((HEADER, "a,1,0,0,,,,"), "is zero, which no calibration reaches"),
            ((HEADER, "a,1,0,-0.05,,,,"), "is negative"),
            ((HEADER, "a,1,1e-3,0.05,,,,"), "is not plain decimal text"),
            ((HEADER, "a,1,NaN,0.05,,,,"), "is not plain decimal text"),
            ((HEADER, "a,1,101,0.05,,,,"), "over 100 µm"),
            ((HEADER, "a,1,0,101,,,,"), "over 100 µm"),
            ((HEADER, "a,1,0,0.05,0.5,,,"), "coverage_factor 0.5 is less than 1"),
            ((HEADER, "a,1,0,0.05,two,,,"), "is not a plain number"),
            ((HEADER, 'a,1,0,0.05,"2,1",,,'), "coverage_factor '2,1' has a decimal comma"),
            ((HEADER, "a,1,0,0.05,,,31.03.2026,"), "is not a day such as"),
            ((HEADER, "a,1,0,0.05,,,2026-02-30,"), "is not a day such as"),
            ((HEADER, "a,1,0,0.05,,,2026-03-31,2026-03-30"), "before the day of calibration"),
            ((HEADER, "a\x07,1,0,0.05,,,,"), "must be printable"),
            ((HEADER, "a" * 129 + ",1,0,0.05,,,,"), "at most 128 characters"),
            ((HEADER, '"a,1'), "is not CSV"),
            ((FIGURES + ",grade", "a,1,0,0.05,9"), "no grade '9'"),
            ((FIGURES + ",material", "a,1,0,0.05,wood"), "'wood'"),
            ((FIGURES + ",role", "a,1,0,0.05,odd"), "neither gauge"),
            ((FIGURES + ",unit", "a,1,0,0.05,cm"), "neither mm nor"),
        ],
    )
    def test_what_is_refused_and_why(self, lines: tuple[str, ...], reason: str) -> None:
        assert reason in why(csv(*lines))

    def test_one_bad_line_refuses_the_whole(self) -> None:
        found = csv(HEADER, LINE, "b,1.01,0.03,0.05,,,tomorrow,", "c,x,0.03,0.05,,,,")

        assert (found.blocks, found.read) == ((), 1)
        places = [remark.location for remark in found.refused]
        assert places == ["line 3, calibrated_on", "line 4, nominal"]

    def test_size_is_bounded(self) -> None:
        many = csv(HEADER, *(f"b{i},1,0,0.05,,,," for i in range(MOST_BLOCKS + 1)))
        large = read_certificate(b" " * (MOST_BYTES + 1), "csv")

        assert "has more than" in why(many)
        assert "is larger than" in why(large)

    def test_text_in_another_encoding_is_refused(self) -> None:
        assert "not text in UTF-8" in why(read_certificate(b"id\n\xe4\n", "csv"))


class TestJson:
    BLOCK = {"id": "K1/1.005", "nominal": "1.005", "deviation": "0.03"}  # noqa: RUF012 - read only
    SHARED = {  # noqa: RUF012 - read only
        "expanded_uncertainty": 0.05,
        "coverage_factor": 2.1,
        "certificate": "2026-0417",
        "calibrated_on": "2026-03-31",
        "due_on": "2027-03-31",
    }

    def test_what_stands_beside_the_blocks_holds_for_all(self) -> None:
        assert in_json({**self.SHARED, "blocks": [self.BLOCK]}).blocks == (EXPECTED,)

    def test_what_a_block_states_itself_goes_first(self) -> None:
        own = {**self.BLOCK, "certificate": "other", "standard_uncertainty": "0.02"}

        (block,) = in_json({**self.SHARED, "blocks": [own]}).blocks

        assert block.calibration is not None
        assert block.calibration.certificate == "other"
        quotient = (block.expanded_uncertainty or 0) / block.calibration.coverage_factor
        assert quotient == pytest.approx(um("0.02"))

    def test_numbers_are_taken_by_their_digits(self) -> None:
        """0.1 + 0.2 is no 0.3 as a float; the digits of the text are."""
        block = b'{"id": 7, "nominal": 0.30, "deviation": -0.07}'
        data = b'{"standard_uncertainty": 1, "blocks": [' + block + b"]}"

        (found,) = read_certificate(data, "json").blocks

        assert (found.id, found.nominal, found.deviation) == ("7", mm("0.3"), um("-0.07"))

    def test_unknown_members_are_ignored_and_told(self) -> None:
        found = in_json({**self.SHARED, "shop": 1, "blocks": [{**self.BLOCK, "shelf": [1]}]})

        assert found.accepted
        assert [remark.location for remark in found.ignored] == ["/shop", "/blocks/0/shelf"]

    @pytest.mark.parametrize(
        ("data", "reason"),
        [
            (b"", "is not JSON"),
            (b"[]", "the document must be an object, not an array"),
            (b'{"blocks": {}}', "/blocks must be an array, not an object"),
            (b'{"blocks": [1]}', "/blocks/0 must be an object, not a number"),
            (b'{"blocks": []}', "states no gauge block"),
            (b'{"blocks": [{"id": true}]}', "/blocks/0/id must be a number"),
            (b'{"blocks": [{"id": "\xff"}]}', "must be a number, or text"),
            (
                b'{"grade": "%s", "blocks": [{"id": "a", "grade": "0"}]}' % (b"x" * 129),
                "/grade must be a number, or text of at most 128 characters",
            ),
            (b'{"unit": "ft", "blocks": [{"id": "a"}]}', "'ft' is neither mm nor in"),
            (b'{"blocks": [{"id": "a", "nominal": 1e22}]}', "is not plain decimal text"),
            (b'{"blocks": ' + b"[" * 100_000, "is not JSON"),
        ],
    )
    def test_what_is_refused_and_why(self, data: bytes, reason: str) -> None:
        assert reason in why(read_certificate(data, "json"))

    def test_size_is_bounded(self) -> None:
        assert "has more than" in why(in_json({"blocks": [{}] * (MOST_BLOCKS + 1)}))
        assert "is larger than" in why(read_certificate(b" " * (MOST_BYTES + 1), "json"))


@given(st.binary(max_size=200), st.sampled_from(["csv", "json", "dcc"]))
def test_no_bytes_whatsoever_raise(data: bytes, document: str) -> None:
    found = read_certificate(data, document)  # type: ignore[arg-type]  # one of the three

    assert bool(found.blocks) != bool(found.refused)


TEXTS = st.text(st.characters(codec="utf-8"), max_size=12)


@given(st.dictionaries(st.sampled_from(COLUMNS), TEXTS | st.floats() | st.integers() | st.none()))
def test_no_members_whatsoever_raise(block: dict[str, object]) -> None:
    found = in_json({"blocks": [block]})

    assert bool(found.blocks) != bool(found.refused)


class TestApplying:
    HELD = Block(id="K1/1.005", nominal=mm("1.005"), grade="0", material="steel", set="K1")
    OTHER = Block(id="K1/2", nominal=mm("2"), grade="0", set="K1")

    def test_a_certificate_renews_its_block_and_no_other(self) -> None:
        renewed, other = apply_certificates([self.HELD, self.OTHER], [EXPECTED])

        assert (renewed.deviation, renewed.calibration) == (um("0.03"), EXPECTED.calibration)
        assert (renewed.grade, renewed.material, renewed.set) == ("0", "steel", "K1")
        assert other == self.OTHER

    def test_nothing_is_applied_where_a_block_is_unknown_or_another(self) -> None:
        wrong = [
            Block(id="K1/3", nominal=mm("3")),
            Block(id="K1/2", nominal=mm("2.5")),
        ]

        with pytest.raises(InputError) as caught:
            apply_certificates([self.HELD, self.OTHER], wrong)

        assert [fault.pointer for fault in caught.value.faults] == [
            "/certified/0/id",
            "/certified/1/nominal",
        ]


def test_a_shared_formula_holds_for_blocks_that_state_no_uncertainty_of_their_own() -> None:
    shared = {"expanded_uncertainty": "0.05", "expanded_uncertainty_per_length": "0.5"}
    blocks = [
        {"id": "a", "nominal": "100", "deviation": "0"},
        {"id": "b", "nominal": "100", "deviation": "0", "expanded_uncertainty": "0.3"},
    ]

    found = in_json({**shared, "blocks": blocks}).blocks

    assert [block.expanded_uncertainty for block in found] == [um("0.1"), um("0.3")]


def test_an_uncertainty_finer_than_a_quantum_is_rounded_up_and_a_deviation_refused() -> None:
    block = {"id": "a", "nominal": "1", "deviation": "-1.2", "expanded_uncertainty": "2.87"}

    (read,) = in_json({"unit": "in", "blocks": [block]}).blocks
    refused = in_json({"unit": "in", "blocks": [{**block, "deviation": "-1.23"}]}).refused

    # 2.87 of 2540 quanta are 7289.8.
    assert read.expanded_uncertainty == 7290
    assert [each.location for each in refused] == ["/blocks/0, deviation"]
