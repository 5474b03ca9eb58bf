"""The page of one block in the crib: its history, its certificates, and what is reported of it."""

import xml.etree.ElementTree as ET

from service.crib_reader import HALL, PAGE, Client, Reader, do, look, send
from store.rows import Clock, hours
from svg_texts import misplaced


def certify(crib: Client, block: str, *lines: str) -> None:
    for line in lines:
        text = f"id,certificate,calibrated_on,deviation,expanded_uncertainty\n{block},{line}\n"
        sent = crib.post(
            f"{HALL}/inventory-imports", content=text, headers={"Content-Type": "text/csv"}
        )
        assert sent.status_code == 200, sent.text


class TestBlock:
    PATH = f"{PAGE}/blocks/bench/1.005"

    def test_its_history_has_the_newest_line_on_top(self, crib: Client, clock: Clock) -> None:
        clock.now = hours(1)
        do(crib, "issues", blocks=["bench/1.005"], borrower="Kim")
        clock.now = hours(2)
        do(
            crib,
            "returns",
            blocks=[{"id": "bench/1.005", "condition": "damaged", "reason": "burr <here>"}],
        )

        page = look(crib, self.PATH)

        told = [e for e in page.texts if e.startswith(("put in", "given out", "back,"))]
        assert told == ["back, worn or damaged: burr <here>", "given out", "put in"]
        assert "Worn or damaged: burr <here>, since 1 Mar 2027, 11:00." in page.texts
        assert page.texts.count("1 Mar 2027, 10:00") == 1

    def test_a_trend_is_drawn_from_three_certificates_on(self, crib: Client) -> None:
        certify(crib, "bench/1.005", "K-1,2024-06-01,0.02,0.05", "K-2,2025-06-01,-0.03,0.05")
        assert "<svg" not in crib.get(self.PATH).text
        assert {"K-1", "K-2", "\N{MINUS SIGN}0.03 µm"} <= set(look(crib, self.PATH).texts)

        certify(crib, "bench/1.005", "K-3,2026-06-01,0.04,0.05")

        html = crib.get(self.PATH).text
        drawing = ET.fromstring(html[html.index("<svg") : html.index("</svg>") + 6])  # noqa: S314 - our own
        assert misplaced(drawing) == []
        points = [e for e in drawing if e.tag.endswith("circle")]
        across, down = ([float(e.attrib[name]) for e in points] for name in ("cx", "cy"))
        assert across == sorted(across)
        # Larger deviations stand higher.
        assert down[2] < down[0] < down[1]
        assert "Drift:" in html
        assert "cannot be told from no change" in html
        # Limits of grade 1 up to 10 mm (ISO 3650, from memory).
        assert {"+0.2 µm", "\N{MINUS SIGN}0.2 µm"} <= {each.text for each in drawing.iter()}

    def test_a_wrong_certificate_does_not_press_the_others_together(self, crib: Client) -> None:
        certify(crib, "bench/1.005", "K-1,2024-06-01,0.02,0.05", "K-2,2025-06-01,400,0.05")
        certify(crib, "bench/1.005", "K-3,2026-06-01,-0.03,0.05")
        html = crib.get(self.PATH).text
        assert html.count("<circle") == 2
        assert html.count("<polygon") == 1
        assert "+400 µm" in html

        certify(crib, "bench/1.005", "K-2,2025-06-01,0.04,0.05")

        page = crib.get(self.PATH).text
        assert (page.count("<circle"), page.count("<polygon")) == (3, 0)
        assert "K-2, corrected since" in Reader(page).texts

    def test_its_history_is_told_in_the_unit_of_then(self, crib: Client) -> None:
        lines = "id,nominal,unit,deviation,expanded_uncertainty\n"
        for line in ("x,25.4,mm,0.0254,0.0508", "x,1,in,1,2"):
            sent = crib.post(
                f"{HALL}/inventory-imports",
                content=lines + line + "\n",
                headers={"Content-Type": "text/csv"},
            )
            assert sent.status_code == 200, sent.text

        told = look(crib, f"{PAGE}/blocks/x?lang=de").texts

        start = told.index("Abweichung:")
        assert told[start : start + 3] == ["Abweichung:", "0,0254 µm", "1 µin"]

    def test_its_condition_is_reported_here(self, crib: Client) -> None:
        form = look(crib, self.PATH).forms[-1]
        fields = [*(each for each in form[1] if each[0] != "reason"), ("condition", "missing")]

        done = send(crib, (form[0], [*fields, ("reason", "not in the drawer")]))

        assert (done.status_code, done.headers["location"]) == (303, self.PATH)
        page = look(crib, self.PATH)
        assert any(each.startswith("Not there: not in the drawer") for each in page.texts)
        assert look(crib).cells["1.005"] == "not there"
