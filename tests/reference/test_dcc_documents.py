"""Digital Calibration Certificates as laboratories write them, in both spellings of D-SI.

The documents are invented. That of schema 3.1.2 was validated against the PTB's dcc.xsd 3.1.2 with
SI_Format.xsd 2.1.0 (copies in public repositories); the other two follow published examples of
their versions and the text of dcc.xsd 3.3.0. No certificate of gauge blocks is published, and no
set of refTypes for them; which ones are read is this library's own choice. Certificates of other
things that others published are in ``certificates/published``, with their sources and licences.
"""

from datetime import date
from pathlib import Path

import pytest

from wrung.blocks import Block
from wrung.calibrations import Calibration
from wrung.lengths import inch, mm, um
from wrung.metrology.certificates import CertificateImport, read_certificate

DOCUMENTS = Path(__file__).with_name("certificates")


def read(name: str) -> CertificateImport:
    found = read_certificate((DOCUMENTS / name).read_bytes(), "dcc")
    assert found.accepted, found.refused
    return found


def figures(block: Block) -> tuple[str, int, int | None, int | None]:
    return block.id, block.nominal, block.deviation, block.expanded_uncertainty


def test_one_block_in_schema_2_4() -> None:
    """No refTypes: columns by their names, the nominal length as text, an `expandedUnc`."""
    (block,) = read("dcc-2.4.0-one-block.xml").blocks

    assert figures(block) == ("A 4711", mm("50"), um("0.043"), um("0.05"))
    assert block.calibration == Calibration(
        certificate="LC-2026-0101",
        laboratory="Lindenhof Calibration",
        calibrated_on=date(2026, 3, 31),
        coverage_factor=2.0,
    )


def test_a_set_in_schema_3_1() -> None:
    """One table for a set: ids of the customer's item and nominal, one factor for all rows."""
    found = read("dcc-3.1.2-set.xml")

    assert [figures(block) for block in found.blocks] == [
        ("K1/0.5", mm("0.5"), um("0.012"), um("0.05")),
        ("K1/1.005", mm("1.005"), um("-0.034"), um("0.05")),
        ("K1/1.005#2", mm("1.005"), um("0.020"), um("0.05")),
        ("K1/25", mm("25"), um("0.051"), um("0.06")),
        ("K1/100", mm("100"), um("-0.110"), um("0.09")),
    ]
    variations = [block.calibration and block.calibration.variation for block in found.blocks]
    assert variations == [um(text) for text in ("0.03", "0.02", "0.03", "0.04", "0.06")]


def test_what_was_not_read_is_told() -> None:
    found = read("dcc-3.1.2-set.xml")

    assert [remark.location for remark in found.ignored] == [
        "influenceConditions",
        "result 1, list 1, 'Flatness, largest'",
    ]
    assert [remark.location for remark in found.remarks] == ["the due date"]


def test_blocks_of_their_own_in_schema_3_3() -> None:
    """Measured lengths in a hybrid, nominals in metres with exponent, `expandedMU`, refIds."""
    found = read("dcc-3.3.0-two-blocks.xml")

    assert [figures(block) for block in found.blocks] == [
        ("HS-7", mm("25"), um("0.051"), um("0.06")),
        ("HS-8", mm("100"), um("-0.11"), um("0.09")),
    ]
    factors = [block.calibration and block.calibration.coverage_factor for block in found.blocks]
    assert factors == [2.13, 2.13]


def test_a_table_with_ids_in_schema_3_3() -> None:
    """Ids as a list of words, nanometres, `expandedMUXMLList` with one figure for all."""
    found = read("dcc-3.3.0-table.xml")

    assert [figures(block) for block in found.blocks] == [
        ("HS-1", mm("1"), um("0.015"), um("0.05")),
        ("HS-2", mm("2"), um("-0.008"), um("0.05")),
        ("HS-3", mm("3"), um("0.022"), um("0.05")),
    ]


@pytest.mark.parametrize("document", sorted(DOCUMENTS.glob("*.xml")), ids=lambda path: path.stem)
def test_every_document_is_read_as_a_whole(document: Path) -> None:
    found = read(document.name)

    assert len(found.blocks) == found.read > 0


@pytest.mark.parametrize(
    ("document", "about"),
    [
        ("dcc-3.1.1-temperature.xml", r"of 'Temperatur-Fühler'. It has results in \kelvin, "),
        (
            "dcc-3.2.0-temperature-signed.xml",
            r"of 'Temperatur-Fühler'. It has results in \kelvin, ",
        ),
        ("dcc-3.3.0-flow-meter.xml", r"of 'Promass F 300'. It has results in \kilogram\per\minute"),
    ],
)
def test_published_certificates_of_other_things_are_refused_by_what_they_are(
    document: str, about: str
) -> None:
    found = read_certificate((DOCUMENTS / "published" / document).read_bytes(), "dcc")

    (refused,) = found.refused
    assert refused.text.startswith("states no gauge block")
    assert about in refused.text
    # Every table is told of, as having no lengths.
    assert any(each.location.startswith("result 1") for each in found.ignored)
    signed = any(each.location == "the signature" for each in found.remarks)
    assert signed == ("signed" in document)


def test_blocks_marked_in_inches() -> None:
    """The certificate is metric, the marking is not: ids and grades go by the marking."""
    data = (DOCUMENTS / "dcc-3.1.2-set.xml").read_bytes()
    data = data.replace(b"0.5 1.005 1.005 25 100", b"2.54 25.4 25.4 50.8 101.6")

    found = read_certificate(data, "dcc", unit="in", due_on=date(2027, 3, 31))

    assert [block.id for block in found.blocks] == ["K1/0.1", "K1/1", "K1/1#2", "K1/2", "K1/4"]
    assert found.blocks[3].nominal == inch("2")
    assert {block.unit for block in found.blocks} == {"in"}
    assert {b.calibration and b.calibration.due_on for b in found.blocks} == {date(2027, 3, 31)}
