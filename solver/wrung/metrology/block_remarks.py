"""What to know of blocks before their figures are used: outside their grade, or from memory."""

from collections.abc import Iterable, Iterator

from wrung.blocks import Block, grade_row
from wrung.grades import Grade, GradeRow, grade
from wrung.lengths import to_text
from wrung.measures import Measure
from wrung.metrology.doubtful import block_doubts
from wrung.texts import Phrase, figure, phrase


def certified_remarks(blocks: Iterable[Block]) -> tuple[Phrase, ...]:
    """Remarks on certified blocks outside the limits, or the variation, of their grade or of any.

    A deviation is outside if the certificate's figure is, whatever its uncertainty. Blocks
    without a grade, or of a grade that says nothing of their length, are not remarked on.
    """
    return tuple(said for block in blocks for said in (*block_doubts(block), *_outside(block)))


def grade_remarks(blocks: Iterable[Block]) -> tuple[Phrase, ...]:
    """Remarks on grades whose limits decide an error though nobody compared them with print.

    Each grade is named once, however many blocks are of it.
    """
    used = list(_limits_used(blocks))
    unchecked = sorted({known.title for known, _ in used if known.checked == "no"})
    doubtful = dict.fromkeys((known, row) for known, row in used if row.doubt)
    names = figure("grades", ", ".join(unchecked))
    return (
        *((phrase("grade.from_memory", names),) if unchecked else ()),
        *(_doubtful(known, row) for known, row in doubtful),
    )


def _outside(block: Block) -> Iterator[Phrase]:
    row = grade_row(block)
    if row is None or block.deviation is None:
        return
    common = (figure("block", block.id), figure("grade", block.grade or ""))
    if not -row.minus <= block.deviation <= row.plus:
        yield phrase(
            "block.outside_limits",
            *common,
            figure("deviation", block.deviation, Measure.DEVIATION, "stated"),
            figure("lower", -row.minus, Measure.DEVIATION, "stated"),
            figure("upper", row.plus, Measure.DEVIATION, "stated"),
        )
    found = block.known_calibration.variation
    if found is not None and row.variation is not None and found > row.variation:
        yield phrase(
            "block.outside_variation",
            *common,
            figure("variation", found, Measure.MARGIN, "stated"),
            figure("allowed", row.variation, Measure.MARGIN, "stated"),
        )


def _limits_used(blocks: Iterable[Block]) -> Iterator[tuple[Grade, GradeRow]]:
    """Grade and row of every block that is known by its grade alone."""
    for block in blocks:
        row = grade_row(block)
        if row and block.grade and not block.certified and block.limit_deviation is None:
            yield grade(block.grade, block.unit), row


def _doubtful(known: Grade, row: GradeRow) -> Phrase:
    over, up_to = (f"{to_text(end, known.unit)} {known.unit}" for end in (row.over, row.up_to))
    names = figure("grade", known.title), figure("over", over), figure("up_to", up_to)
    return phrase("grade.doubtful", *names)
