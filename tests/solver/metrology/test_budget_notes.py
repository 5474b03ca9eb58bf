"""The notes of a budget list each assumption that it makes, and none that it does not make."""

from datetime import date
from typing import get_args

import pytest
from msgspec.structs import replace

from wrung.blocks import Block
from wrung.calibrations import Calibration
from wrung.lengths import mm, um
from wrung.metrology.budget import NoteCode, stack_budget
from wrung.metrology.conditions import STANDARD, Conditions, Part
from wrung.metrology.quantities import exactly, normal, rectangular
from wrung.texts import languages, word

STATED = Calibration(
    certificate="LC-7",
    calibrated_on=date(2031, 3, 1),
    degrees_of_freedom=40.0,
    variation=um("0.05"),
    expansion=11.4,
    expansion_uncertainty=0.1,
)
CERTIFIED = Block(
    id="a",
    nominal=mm("20"),
    deviation=um("0.1"),
    expanded_uncertainty=um("0.06"),
    material="steel",
    grade="0",
    calibration=STATED,
)
KNOWN = Conditions(
    used_on=date(2031, 9, 1),
    temperature=rectangular(21, 0.5),
    part=Part(expansion=normal(23, 0.5), temperature_difference=rectangular(0, 0.2)),
    wringing=rectangular(0, 500),
    off_centre=0.0,
)
GRADED = Block(id="g", nominal=mm("10"), grade="1", material="steel")
ALWAYS = {"temperature_uniform", "drift_within_standard", "one_film", "from_memory"}
"""What even a budget of figures that are all stated takes for granted."""


def codes(blocks: list[Block], conditions: Conditions) -> set[str]:
    return {note.code for note in stack_budget(blocks, conditions).notes}


def test_who_states_everything_reads_little() -> None:
    assert codes([CERTIFIED], KNOWN) == ALWAYS


def without(**members: object) -> Block:
    """The block whose certificate does not state something."""
    return replace(CERTIFIED, calibration=replace(STATED, **members))


@pytest.mark.parametrize(
    ("blocks", "conditions", "code"),
    [
        ([CERTIFIED], replace(KNOWN, temperature=None, part=None), "temperature_not_stated"),
        ([CERTIFIED], replace(KNOWN, temperature=exactly(21)), "temperature_exact"),
        ([CERTIFIED], replace(KNOWN, part=Part(expansion=normal(23, 0.5))), "part_as_warm"),
        (
            [CERTIFIED],
            replace(KNOWN, part=Part(expansion=normal(23, 1), temperature_difference=exactly(1))),
            "part_temperature_exact",
        ),
        ([CERTIFIED], replace(KNOWN, part=Part(material="steel")), "part_expansion_of_table"),
        ([without(expansion=None)], KNOWN, "expansion_of_table"),
        ([replace(GRADED, material=None)], KNOWN, "material_assumed"),
        ([replace(GRADED, material="granite")], KNOWN, "expansion_limits_assumed"),
        ([CERTIFIED, replace(CERTIFIED, id="b")], KNOWN, "certificates_correlated"),
        (
            [without(certificate=None), replace(without(certificate=None), id="b")],
            KNOWN,
            "certificate_not_named",
        ),
        ([replace(CERTIFIED, calibration=None)], KNOWN, "coverage_factor_assumed"),
        ([without(degrees_of_freedom=None)], KNOWN, "freedom_not_stated"),
        ([without(calibrated_on=None)], KNOWN, "drift_not_counted"),
        ([CERTIFIED], replace(KNOWN, off_centre=0.5), "touched_anywhere"),
        ([without(variation=None)], replace(KNOWN, off_centre=1.0), "variation_of_grade"),
        (
            [replace(without(variation=None), grade=None)],
            replace(KNOWN, off_centre=1.0),
            "variation_not_counted",
        ),
        ([GRADED], KNOWN, "within_limits"),
        ([Block(id="o", nominal=mm("25.4"), unit="in", grade="3")], KNOWN, "limits_unequal"),
        ([CERTIFIED, GRADED], replace(KNOWN, wringing=None), "joints_within_allowance"),
        ([replace(CERTIFIED, nominal=mm("125"))], KNOWN, "long_blocks"),
        ([without(due_on=date(2031, 8, 1))], KNOWN, "overdue"),
    ],
)
def test_what_is_not_stated_is_noted(
    blocks: list[Block], conditions: Conditions, code: str
) -> None:
    assert code in codes(blocks, conditions)


@pytest.mark.parametrize("language", languages())
def test_every_note_that_a_budget_can_have_reads_as_a_sentence(language: str) -> None:
    """All codes at least once, in words, without a figure left out."""
    blocks = [
        replace(CERTIFIED, id="c", calibration=None),
        replace(CERTIFIED, id="d", calibration=None, grade=None),
        CERTIFIED,
        without(variation=None),
        replace(GRADED, material=None, nominal=mm("125")),
        replace(GRADED, material="granite"),
        without(due_on=date(2031, 8, 1)),
        Block(id="o", nominal=mm("25.4"), unit="in", grade="3"),
    ]
    budgets = [
        stack_budget(blocks, Conditions(used_on=date(2031, 9, 1), part=Part(material="steel"))),
        stack_budget(
            blocks,
            Conditions(
                temperature=exactly(21),
                part=Part(material="steel", temperature_difference=exactly(1)),
            ),
        ),
        stack_budget(blocks, STANDARD),
    ]
    notes = [note for budget in budgets for note in budget.notes]

    assert {note.code for note in notes} == set(get_args(NoteCode))
    for note in notes:
        said = word(note.said, language)
        assert said.endswith(".")
        assert "{" not in said


def test_figures_from_memory_are_named_once_and_only_where_they_count() -> None:
    """Stability of ISO 3650 where a block drifts, granite's coefficient where there is heat."""
    budget = stack_budget([CERTIFIED, replace(CERTIFIED, id="b")], KNOWN)
    (note,) = [note for note in budget.notes if note.code == "from_memory"]

    assert note.subjects == ("ISO 3650:1998, 6.2.4",)
    cold = stack_budget([replace(GRADED, material="granite")], STANDARD)
    assert "from_memory" not in {note.code for note in cold.notes}
