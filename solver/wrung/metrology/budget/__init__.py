"""Uncertainty budgets by the GUM (JCGM 100:2008): one file an input, one that adds it all up.

`RowKind` says what a row of the table is about and `InputUnit` which unit its value has;
`NoteCode` says what a note is about.
"""

from wrung.metrology.budget.combining import Combined, combine
from wrung.metrology.budget.notes import Note, NoteCode
from wrung.metrology.budget.rows import InputUnit, Row, RowKind
from wrung.metrology.budget.stack import Budget, Errors, stack_budget

__all__ = [
    "Budget",
    "Combined",
    "Errors",
    "InputUnit",
    "Note",
    "NoteCode",
    "Row",
    "RowKind",
    "combine",
    "stack_budget",
]
