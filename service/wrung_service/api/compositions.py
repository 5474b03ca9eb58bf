"""The series of nominal lengths that make up gauge sets: ``GET /v1/compositions``."""

from typing import Annotated

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from litestar.params import FromPath
from msgspec import Meta, Struct, convert

from wrung.blocks import Role, Section
from wrung.compositions import Composition, Series, all_compositions, composition
from wrung.errors import InputError
from wrung.lengths import Unit, to_text
from wrung.tables import Checked
from wrung_service.api.bodies import HttpRequest
from wrung_service.api.operations import OPERATION, Operation, PathParameter, example
from wrung_service.api.problem_types import NOT_FOUND
from wrung_service.api.problems import Refusal
from wrung_service.api.responses import respond_table
from wrung_service.api.texts import CHECKED, DecimalText


class CompositionSummary(Struct, frozen=True, kw_only=True):
    """A composition, without its lengths."""

    id: Annotated[str, Meta(description="Name that sets use for it.")]
    name: Annotated[str, Meta(description="A description.")]
    aliases: Annotated[tuple[str, ...], Meta(description="Further names for it.")]
    unit: Annotated[Unit, Meta(description="Unit that its blocks are marked in.")]
    role: Annotated[Role, Meta(description="`wear` for a set of wear blocks only.")]
    section: Annotated[Section, Meta(description="Square blocks have a hole for a tie rod.")]
    count: Annotated[int, Meta(description="Number of blocks.")]


class CompositionList(Struct, frozen=True, kw_only=True):
    """Every composition known."""

    compositions: Annotated[
        tuple[CompositionSummary, ...],
        Meta(description="Inch first, then metric, then wear blocks."),
    ]


class SeriesOfLengths(Struct, frozen=True, kw_only=True):
    """Equally spaced nominal lengths; a step of 0 means that all have one length."""

    start: Annotated[DecimalText, Meta(description="The shortest.")]
    stop: Annotated[DecimalText, Meta(description="The longest.")]
    step: Annotated[DecimalText, Meta(description="The distance between two.")]
    count: Annotated[int, Meta(description="How many.")]


class MarkingDetails(Struct, frozen=True, kw_only=True):
    """How sizes stand on the blocks."""

    leading_zero: Annotated[
        bool, Meta(description="Whether a size below one unit has a nought before its sign.")
    ]
    decimals: Annotated[int, Meta(description="A size below one unit has at least so many.")]
    decimal_sign: Annotated[
        str | None,
        Meta(description="As marked; null where that of the reader's language will do."),
    ]
    source: Annotated[str, Meta(description="Where that comes from.")]
    checked: Annotated[Checked, Meta(description=CHECKED)]


class CompositionDetails(CompositionSummary, frozen=True, kw_only=True):
    """A composition with its nominal lengths, in its unit."""

    total: Annotated[DecimalText, Meta(description="Sum of the nominal lengths.")]
    series: Annotated[
        tuple[SeriesOfLengths, ...], Meta(description="The lengths, as catalogues print them.")
    ]
    nominals: Annotated[
        tuple[DecimalText, ...],
        Meta(description="Ascending; each length as many times as there are blocks of it."),
    ]
    source: Annotated[str, Meta(description="Where the series comes from.")]
    checked: Annotated[Checked, Meta(description=CHECKED)]
    marking: Annotated[MarkingDetails, Meta(description="How sizes stand on its blocks.")]


_LIST = Operation(
    id="listCompositions",
    tag="reference data",
    summary="List the compositions of gauge sets",
    description="Every composition that a set in a request may name.",
    answer=CompositionList,
    answer_examples={"list": example("The beginning of the list", "compositions")},
)
_ONE = Operation(
    id="getComposition",
    tag="reference data",
    summary="Get a composition with its nominal lengths",
    description="By its id or one of its aliases.",
    answer=CompositionDetails,
    answer_examples={"wear pair": example("A pair of wear blocks", "composition")},
    parameters=(
        PathParameter(
            name="composition_id",
            description="Id or alias of a composition.",
            example="inch-81",
        ),
    ),
    problems=(NOT_FOUND,),
)


def composition_routes() -> list[HTTPRouteHandler]:
    """The list and each of its members."""

    @get("/v1/compositions", opt={OPERATION: _LIST})
    async def list_compositions(request: HttpRequest) -> Response[bytes]:
        summaries = tuple(_summary(known) for known in all_compositions())
        return respond_table(request, CompositionList(compositions=summaries))

    @get("/v1/compositions/{composition_id:str}", opt={OPERATION: _ONE})
    async def get_composition(
        request: HttpRequest, composition_id: FromPath[str]
    ) -> Response[bytes]:
        try:
            found = composition(composition_id)
        except InputError as error:
            # Here the name is an address, so an unknown one is 404; in a body it is 422.
            detail = error.faults[0].detail
            raise Refusal(NOT_FOUND, f"{detail[0].upper()}{detail[1:]}.") from None
        return respond_table(request, _details(found))

    return [list_compositions, get_composition]


def _summary(known: Composition) -> CompositionSummary:
    return CompositionSummary(
        id=known.id,
        name=known.name,
        aliases=known.aliases,
        unit=known.unit,
        role=known.role,
        section=known.section,
        count=known.count,
    )


def _details(known: Composition) -> CompositionDetails:
    return CompositionDetails(
        id=known.id,
        name=known.name,
        aliases=known.aliases,
        unit=known.unit,
        role=known.role,
        section=known.section,
        count=known.count,
        total=to_text(known.total, known.unit),
        series=tuple(_series(series, known.unit) for series in known.series),
        nominals=tuple(to_text(nominal, known.unit) for nominal in known.nominals),
        source=known.source,
        checked=known.checked,
        marking=convert(known.marking, MarkingDetails, from_attributes=True),
    )


def _series(series: Series, unit: Unit) -> SeriesOfLengths:
    return SeriesOfLengths(
        start=to_text(series.start, unit),
        stop=to_text(series.stop, unit),
        step=to_text(series.step, unit),
        count=series.count,
    )
