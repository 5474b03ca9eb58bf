"""Compositions, grades, materials and limits over HTTP."""

from service.bodies import problem_name
from service.conftest import Client, Start
from wrung import all_compositions, mm
from wrung.grades import all_grades
from wrung.materials import all_materials
from wrung.tapers import all_tapers
from wrung_service.settings import Settings


def test_every_composition_is_listed_and_can_be_got(client: Client) -> None:
    """By its id, with all its lengths."""
    listed = client.get("/v1/compositions").json()["compositions"]

    assert [each["id"] for each in listed] == [known.id for known in all_compositions()]
    for each in listed:
        details = client.get(f"/v1/compositions/{each['id']}").json()
        assert details.items() >= each.items()
        assert len(details["nominals"]) == each["count"]


def test_a_composition_has_its_lengths_in_its_unit(client: Client) -> None:
    """The 81 block inch set: 9 + 49 + 19 + 4 blocks, 26.5295 in together (computed)."""
    inch_81 = client.get("/v1/compositions/inch-81").json()

    assert [series["count"] for series in inch_81["series"]] == [9, 49, 19, 4]
    assert (inch_81["unit"], inch_81["count"], inch_81["total"]) == ("in", 81, "26.5295")
    assert inch_81["nominals"][0] == "0.05"
    assert inch_81["source"]


def test_an_ambiguous_name_is_not_found_with_advice(client: Client) -> None:
    """Two sets go by 47 blocks; the detail names both."""
    response = client.get("/v1/compositions/metric-47")

    assert (response.status_code, problem_name(response)) == (404, "not-found")
    assert "metric-47-a" in response.json()["detail"]


def test_grades_have_their_limits(client: Client) -> None:
    """ISO 3650, grade 0: 0.12 um up to 10 mm (reference table of the library, tested there)."""
    grades = client.get("/v1/grades").json()["grades"]

    assert [each["id"] for each in grades] == [known.id for known in all_grades()]
    metric_0 = next(each for each in grades if each["id"] == "mm-0")
    row = next(row for row in metric_0["limits"] if mm(row["over"]) < mm("5") <= mm(row["up_to"]))
    assert (metric_0["small_unit"], row["plus"], row["minus"]) == ("um", "0.12", "0.12")


def test_materials_have_their_expansion(client: Client) -> None:
    """As decimal text, null where a figure is not known."""
    materials = client.get("/v1/materials").json()["materials"]

    assert [each["id"] for each in materials] == [known.id for known in all_materials()]
    steel = next(each for each in materials if each["id"] == "steel")
    assert 10 < float(steel["expansion"]) < 13


def test_tapers_have_their_angles(client: Client) -> None:
    """A spindle's taper of 7:24 has half an angle of 8 degrees 17 minutes 50 seconds."""
    tapers = client.get("/v1/tapers").json()["tapers"]

    assert [each["designation"] for each in tapers] == [t.designation for t in all_tapers()]
    steep = next(each for each in tapers if each["designation"] == "7:24 40")
    assert (steep["half_angle"]["dms"], steep["gauge_diameter"]) == ("8°17'49.7\"", "44.45")
    assert (steep["unit"], steep["checked"]) == ("mm", "partly")


def test_limits_are_those_that_the_operator_set(start: Start) -> None:
    """So that a client can keep to them."""
    client = start(max_blocks=7, solve_workers=3)

    limits = client.get("/v1/limits").json()

    assert (limits["max_blocks"], limits["solve_workers"]) == (7, 3)
    assert limits["max_body_bytes"] == Settings().max_body_bytes
    assert limits["max_length_mm"] == "10000"
