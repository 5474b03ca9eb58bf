"""Digital Calibration Certificates that are not as they should be: all or nothing, and why."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung.lengths import um
from wrung.metrology.certificates import CertificateImport, read_certificate
from wrung.metrology.certificates.limits import MOST_BYTES, MOST_DEPTH, MOST_ELEMENTS

UM = r"\micro\metre"
MM = r"\milli\metre"
OLD = "expandedUncXMLList", "uncertaintyXMLList"


def column(ref_type: str, values: str, unit: str, uncertainty: str = "") -> str:
    return (
        f'<dcc:quantity refType="{ref_type}"><si:realListXMLList>'
        f"<si:valueXMLList>{values}</si:valueXMLList><si:unitXMLList>{unit}</si:unitXMLList>"
        f"{uncertainty}</si:realListXMLList></dcc:quantity>"
    )


def expanded(values: str = "0.05", factors: str = "2") -> str:
    return (
        f"<si:expandedUncXMLList><si:uncertaintyXMLList>{values}</si:uncertaintyXMLList>"
        f"<si:coverageFactorXMLList>{factors}</si:coverageFactorXMLList></si:expandedUncXMLList>"
    )


def standard(values: str) -> str:
    return (
        "<si:measurementUncertaintyUnivariateXMLList><si:standardMUXMLList>"
        f"<si:valueStandardMUXMLList>{values}</si:valueStandardMUXMLList>"
        "</si:standardMUXMLList></si:measurementUncertaintyUnivariateXMLList>"
    )


NOMINALS = column("basic_nominalValue", "1 2", MM)
DEVIATIONS = column("basic_measurementError", "0.01 0.02", UM, expanded())
ITEM = (
    "<dcc:item{}><dcc:identifications><dcc:identification><dcc:issuer>owner</dcc:issuer>"
    "<dcc:value>{}</dcc:value></dcc:identification></dcc:identifications></dcc:item>"
)


def document(*quantities: str, items: str = ITEM.format("", "K1"), version: str = "3.2.1") -> bytes:
    return (
        '<dcc:digitalCalibrationCertificate xmlns:dcc="https://ptb.de/dcc" '
        f'xmlns:si="https://ptb.de/si" schemaVersion="{version}"><dcc:administrativeData>'
        "<dcc:coreData><dcc:uniqueIdentifier>4711</dcc:uniqueIdentifier>"
        "<dcc:endPerformanceDate>2026-03-31Z</dcc:endPerformanceDate></dcc:coreData>"
        f"<dcc:items>{items}</dcc:items></dcc:administrativeData>"
        "<dcc:measurementResults><dcc:measurementResult><dcc:results><dcc:result><dcc:data>"
        f"<dcc:list>{''.join(quantities)}</dcc:list></dcc:data></dcc:result></dcc:results>"
        "</dcc:measurementResult></dcc:measurementResults></dcc:digitalCalibrationCertificate>"
    ).encode()


def read(data: bytes) -> CertificateImport:
    return read_certificate(data, "dcc")


def refusal(data: bytes) -> str:
    found = read(data)
    assert found.blocks == ()
    return "; ".join(f"{remark.location} {remark.text}" for remark in found.refused)


def test_the_plain_document_is_read() -> None:
    """So that what is refused below is refused for its own reason."""
    assert [block.id for block in read(document(NOMINALS, DEVIATIONS)).blocks] == ["K1/1", "K1/2"]


def test_a_standard_uncertainty_comes_back_when_divided() -> None:
    deviations = column("basic_measurementError", "0.01 0.02", UM, standard("0.025 0.03"))

    blocks = read(document(NOMINALS, deviations)).blocks

    quotients = [
        (block.expanded_uncertainty or 0) / block.calibration.coverage_factor
        for block in blocks
        if block.calibration
    ]
    assert quotients == pytest.approx([um("0.025"), um("0.03")])


@pytest.mark.parametrize("version", ["2.4.0", "3.0.0", "3.1.2", "3.4.0-rc.2"])
def test_versions_in_use_are_read(version: str) -> None:
    assert read(document(NOMINALS, DEVIATIONS, version=version)).accepted


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (document(NOMINALS, DEVIATIONS, version="4.0.0"), "not 2.4 or 3.x"),
        (document(NOMINALS, DEVIATIONS, version=""), "not 2.4 or 3.x"),
        (document(NOMINALS), "states no gauge block"),
        (document(DEVIATIONS), "states no gauge block"),
        (
            document(NOMINALS, column("basic_measurementError", "0.01 0.02", UM)),
            "expanded_uncertainty is missing",
        ),
        (
            document(NOMINALS, column("basic_measurementError", "0.01", UM, expanded())),
            "not equally long",
        ),
        (
            document(
                NOMINALS,
                column("basic_measurementError", "0.01 0.02 0.03", UM, expanded("0.05 0.06")),
            ),
            "has 3 values, but 2",
        ),
        (
            document(
                NOMINALS, column("basic_measurementError", "0.01 0.02", r"\kelvin", expanded())
            ),
            "is no length known here",
        ),
        (
            document(NOMINALS, column("basic_measurementError", "0.01 NaN", UM, expanded())),
            "is no number",
        ),
        (
            document(NOMINALS, column("basic_measurementError", "0.01 1e999999", UM, expanded())),
            "out of all proportion",
        ),
        (
            document(NOMINALS, column("basic_measurementError", "0,01 0.02", UM, expanded())),
            "is no number",
        ),
        (
            document(NOMINALS, column("basic_measurementError", "10 20", MM, expanded())),
            "over 100 µm",
        ),
        (
            document(NOMINALS, column("basic_measurementError", "0.0000001 0", UM, expanded())),
            "finer than the resolution",
        ),
        (
            document(NOMINALS, DEVIATIONS, items=ITEM.format("", "A") * 3),
            "does not say which items",
        ),
        (document(NOMINALS, DEVIATIONS, items=""), "does not say which items"),
        (b"<certificate/>", "is no Digital Calibration Certificate"),
        (b"", "not well-formed"),
        (b"\xff\xfe\x00", "not well-formed"),
        (b'<?xml version="1.0" encoding="no-such"?><a/>', "not well-formed"),
    ],
)
def test_what_is_refused_and_why(data: bytes, why: str) -> None:
    assert why in refusal(data)


def test_one_bad_row_refuses_the_whole() -> None:
    """The first row is in order, and still nothing is imported."""
    deviations = column("basic_measurementError", "0.01 500", UM, expanded())

    found = read(document(NOMINALS, deviations))

    assert (found.blocks, found.read) == ((), 1)
    assert [remark.location for remark in found.refused] == ["result 1, list 1, row 2, deviation"]


class TestHostileXml:
    BOMB = (
        '<!DOCTYPE a [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">'
        '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">]><a>&c;</a>'
    )
    FILE = '<!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/hostname">]><a>&x;</a>'
    PARAMETER = '<!DOCTYPE a [<!ENTITY % x SYSTEM "http://127.0.0.1:9/x.dtd"> %x;]><a/>'
    OUTSIDE = '<!DOCTYPE a SYSTEM "http://127.0.0.1:9/x.dtd"><a/>'

    @pytest.mark.parametrize("text", [BOMB, FILE, PARAMETER, OUTSIDE, "<!DOCTYPE a><a/>"])
    def test_a_document_type_is_refused(self, text: str) -> None:
        assert "has a document type declaration" in refusal(text.encode())

    def test_the_same_in_utf_16(self) -> None:
        assert "has a document type declaration" in refusal(self.BOMB.encode("utf-16"))

    def test_depth_is_bounded(self) -> None:
        assert "nested more than" in refusal(b"<a>" * (MOST_DEPTH + 1))

    def test_the_number_of_elements_is_bounded(self) -> None:
        assert "elements" in refusal(b"<a>" + b"<b/>" * (MOST_ELEMENTS + 1) + b"</a>")

    def test_size_is_bounded(self) -> None:
        assert "is larger than" in refusal(b" " * (MOST_BYTES + 1))

    def test_unknown_entities_are_an_error(self) -> None:
        assert "not well-formed" in refusal(b"<a>&unknown;</a>")

    def test_an_xinclude_is_an_element_like_any_other(self) -> None:
        include = '<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" href="/etc/hostname"/>'

        assert "is no Digital Calibration Certificate" in refusal(f"<a>{include}</a>".encode())


@given(st.data())
def test_a_damaged_document_never_raises_and_is_never_half_imported(data: st.DataObject) -> None:
    whole = document(NOMINALS, DEVIATIONS)
    place = data.draw(st.integers(0, len(whole) - 1))
    damage = data.draw(st.binary(max_size=6))
    cut = data.draw(st.integers(0, 20))

    found = read(whole[:place] + damage + whole[place + cut :])

    assert bool(found.blocks) != bool(found.refused)
