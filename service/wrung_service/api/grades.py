"""The limits of each grade: ``GET /v1/grades``."""

from typing import Annotated

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from msgspec import Meta, Struct

from wrung.grades import Grade, GradeRow, all_grades
from wrung.lengths import SMALL_UNIT, SmallUnit, Unit, to_text
from wrung.tables import Checked
from wrung_service.api.bodies import HttpRequest
from wrung_service.api.operations import OPERATION, Operation, example
from wrung_service.api.responses import respond_table
from wrung_service.api.texts import CHECKED, DecimalText


class GradeLimits(Struct, frozen=True, kw_only=True):
    """What a grade allows for one range of nominal lengths."""

    over: Annotated[
        DecimalText,
        Meta(description="The range starts above this length; the first one includes it."),
    ]
    up_to: Annotated[DecimalText, Meta(description="The range ends with this length.")]
    plus: Annotated[
        DecimalText,
        Meta(description="How much longer than nominal a block may be, in the small unit."),
    ]
    minus: Annotated[
        DecimalText,
        Meta(
            description="How much shorter than nominal it may be, as a positive "
            "length, in the small unit."
        ),
    ]
    variation: Annotated[
        DecimalText | None,
        Meta(description="Tolerance of the variation in length, in the small unit, if known."),
    ]
    doubt: Annotated[
        str | None, Meta(description="What speaks against the figures of this row, if anything.")
    ]


class GradeOfBlocks(Struct, frozen=True, kw_only=True):
    """A grade of one standard, for blocks marked in one unit."""

    id: Annotated[str, Meta(description="Made of unit and name.")]
    name: Annotated[str, Meta(description="Name that blocks and sets use for it.")]
    unit: Annotated[Unit, Meta(description="Unit that the blocks are marked in.")]
    small_unit: Annotated[SmallUnit, Meta(description="Unit of its limits.")]
    standard: Annotated[str, Meta(description="The standard that sets it.")]
    source: Annotated[str, Meta(description="Where the figures come from.")]
    checked: Annotated[Checked, Meta(description=CHECKED)]
    limits: Annotated[
        tuple[GradeLimits, ...], Meta(description="By nominal length, ascending, without gaps.")
    ]


class GradeList(Struct, frozen=True, kw_only=True):
    """Every grade known."""

    grades: Annotated[tuple[GradeOfBlocks, ...], Meta(description="Metric first.")]


_LIST = Operation(
    id="listGrades",
    tag="reference data",
    summary="List the grades with their limits",
    description=(
        "Every grade that a block or a set can name, with its limit deviations and its "
        "tolerance of the variation in length. What a name means depends on the unit of the "
        "block: `2` on a metric block is not the same grade as `2` on an inch block."
    ),
    answer=GradeList,
    answer_examples={"list": example("The beginning of the list", "grades")},
)


def grade_routes() -> list[HTTPRouteHandler]:
    """The list."""

    @get("/v1/grades", opt={OPERATION: _LIST})
    async def list_grades(request: HttpRequest) -> Response[bytes]:
        return respond_table(
            request, GradeList(grades=tuple(_grade(known) for known in all_grades()))
        )

    return [list_grades]


def _grade(known: Grade) -> GradeOfBlocks:
    return GradeOfBlocks(
        id=known.id,
        name=known.name,
        unit=known.unit,
        small_unit=SMALL_UNIT[known.unit],
        standard=known.standard,
        source=known.source,
        checked=known.checked,
        limits=tuple(_limits(row, known.unit) for row in known.rows),
    )


def _limits(row: GradeRow, unit: Unit) -> GradeLimits:
    small = SMALL_UNIT[unit]
    return GradeLimits(
        over=to_text(row.over, unit),
        up_to=to_text(row.up_to, unit),
        plus=to_text(row.plus, small),
        minus=to_text(row.minus, small),
        variation=None if row.variation is None else to_text(row.variation, small),
        doubt=row.doubt,
    )
