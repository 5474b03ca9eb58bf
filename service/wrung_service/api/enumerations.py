"""The enumerations on the wire, each under one name, and which of them may grow."""

from typing import Any, Final, Literal, get_args

from msgspec import Struct

from wrung.answers import ErrorKind, Objective, Outcome, Restriction, ShortageCause, UnmetReason
from wrung.blocks import Role, Section
from wrung.coverage.answer import Surveyed
from wrung.handwork.step import Phase
from wrung.instruments.check_points import InstrumentKind
from wrung.lengths import SmallUnit, Unit
from wrung.measures import TemperatureUnit
from wrung.metrology.budget.notes import NoteCode
from wrung.metrology.budget.rows import RowKind
from wrung.metrology.certificates.report import Format
from wrung.metrology.decisions import Verdict
from wrung.metrology.purpose import Guard, Statement
from wrung.metrology.quantities import Distribution
from wrung.metrology.stack_check import Gain
from wrung.preferences import PreferenceGoal
from wrung.tables import Checked
from wrung.targets.compound_sine import Given
from wrung.targets.contributions import BudgetInput
from wrung.targets.fit import GaugeStandard
from wrung.targets.gauge_zones import GaugeZone
from wrung.targets.inch_fit import FitFeature
from wrung.targets.limit_pair import Feature
from wrung.targets.limit_results import GaugeRole
from wrung.targets.requirement import WearBlocks
from wrung.targets.turns import Timing
from wrung_service.api.cards.typesetting import CardFormat, CardMedia
from wrung_service.api.metrology.budgets import BudgetDetail, InputUnitOnWire, TableUnit
from wrung_service.api.metrology.conditions import Spread
from wrung_service.api.metrology.measures import FigureUnit
from wrung_service.api.plans.request import EndState
from wrung_service.api.records.shape import UncertaintyKind
from wrung_service.store.batches.batches import BatchState
from wrung_service.store.blocks import Condition
from wrung_service.store.plans import PlanState
from wrung_service.store.webhooks.deliveries import DeliveryState
from wrung_service.store.webhooks.endpoints import StopReason
from wrung_service.store.webhooks.messages import EventType
from wrung_service.usecases.shelf.write_blocks import Effect


class Enumeration(Struct, frozen=True, kw_only=True):
    """An enumeration.

    Attributes:
        name: of its component in the document.
        alias: the `typing.Literal` with its values.
        description: what it is about.
        grows: whether a later version of the same ``/v1`` may know further values.
    """

    name: str
    alias: Any
    description: str
    grows: bool = False


def values_of(enumeration: Enumeration) -> tuple[str, ...]:
    """Its values, in the order of the library."""
    return tuple(get_args(enumeration.alias))


def _fixed(name: str, alias: Any, description: str) -> Enumeration:  # noqa: ANN401 - a Literal
    return Enumeration(name=name, alias=alias, description=description)


def _growing(name: str, alias: Any, description: str) -> Enumeration:  # noqa: ANN401 - a Literal
    return Enumeration(name=name, alias=alias, description=description, grows=True)


ENUMERATIONS: Final = (
    _fixed("Unit", Unit, "Unit of lengths."),
    _fixed("SmallUnit", SmallUnit, "Unit of deviations and errors: µm or µin."),
    _growing("TemperatureUnit", TemperatureUnit, "Unit of temperatures."),
    _growing("TableUnit", TableUnit, "Unit of a budget's contributions."),
    _growing("FigureUnit", FigureUnit, "Unit of figures that plans are compared by."),
    _growing("InputUnit", InputUnitOnWire, "Unit of an input of a budget."),
    _fixed("BlockRole", Role, "What a block is for: to measure with, or to take the wear."),
    _fixed("BlockSection", Section, "Shape of a block across its length."),
    _growing("BlockCondition", Condition, "Whether a block can be used, or why not."),
    _growing("CardFormat", CardFormat, "What cards are set on."),
    _growing("CardMedia", CardMedia, "What cards are made as."),
    _fixed("ImportEffect", Effect, "What an import does to a block or a set."),
    _fixed("WearBlocks", WearBlocks, "How many ends of a stack carry a wear block."),
    _fixed("Outcome", Outcome, "What came of a request for stacks."),
    _fixed("CoverageOutcome", Surveyed, "What came of a request for coverage."),
    _growing("UnmetReason", UnmetReason, "Why a stack is missing."),
    _growing("Restriction", Restriction, "What of a request forbids a stack."),
    _growing("ShortageCause", ShortageCause, "Why not every target has its stacks."),
    _growing("Objective", Objective, "What is made least."),
    _growing("PreferenceGoal", PreferenceGoal, "What decides between equally good plans."),
    _fixed("Timing", Timing, "Whether targets are needed at one time or one after the other."),
    _growing("ErrorKind", ErrorKind, "Which error stacks are compared by."),
    _growing("BudgetDetail", BudgetDetail, "How much of an uncertainty budget is wanted."),
    _growing("BudgetRowKind", RowKind, "Kind of an input of a budget."),
    _growing("BudgetNoteCode", NoteCode, "What a note on a budget is about."),
    _growing("Distribution", Distribution, "Probability distribution of an input of a budget."),
    _growing("StatedDistribution", Spread, "Probability distribution that limits can have."),
    _fixed("UncertaintyKind", UncertaintyKind, "Where an uncertainty was taken from."),
    _growing("Guard", Guard, "How wide a guard band is."),
    _growing("ConformityStatement", Statement, "What a decision rule says of a measured size."),
    _growing("Verdict", Verdict, "Which rule of thumb a decision meets."),
    _growing("Improvement", Gain, "In what another stack is better."),
    _growing("Checked", Checked, "How far figures were compared with a printed source."),
    _growing("CertificateFormat", Format, "What a certificate was read as."),
    _growing("HandworkPhase", Phase, "Part of the work at the bench."),
    _growing("GaugeRole", GaugeRole, "What a stack for limits checks."),
    _growing("Feature", Feature, "What limits of size belong to."),
    _fixed("GaugeZone", GaugeZone, "Where the tolerance zones of gauges lie."),
    _growing("GaugeStandard", GaugeStandard, "Standard that gauges are made by."),
    _fixed("FitFeature", FitFeature, "Which part of a fit is checked."),
    _growing("Instrument", InstrumentKind, "Kind of instrument whose points are checked."),
    _fixed("CompoundAngles", Given, "What the two angles of a compound setting mean."),
    _fixed("AccessoryEffect", Literal["adds", "subtracts"], "What an accessory does to a gap."),
    _growing("SetTo", Literal["nominal", "middle"], "What a comparison is set to."),
    _fixed("DovetailForm", Literal["male", "female"], "Which half of a dovetail it is."),
    _fixed("GeneralClass", Literal["f", "m", "c", "v"], "Tolerance class of ISO 2768-1."),
    _fixed("PlanState", PlanState, "Whether a plan has its blocks, or how it ended."),
    _fixed("PlanEndState", EndState, "How a plan ends."),
    _fixed("BatchState", BatchState, "How far a batch is, or how it ended."),
    _growing("WebhookEvent", EventType, "What a webhook can be told of."),
    _growing("WebhookStopReason", StopReason, "Why nothing is sent to a webhook."),
    _fixed("DeliveryState", DeliveryState, "What became of a message to a webhook."),
    _fixed("RollArrangement", Literal["straight_edges", "on_plate"], "Where two rolls lie."),
    _growing("BudgetInput", BudgetInput, "Input of the uncertainty of a result."),
    _fixed("MeasuredTo", Literal["hole", "edge"], "Where a distance from a hole ends."),
    _fixed(
        "TaperHeld", Literal["on_its_side", "between_centres"], "How a taper lies on a sine bar."
    ),
    _fixed("ArcForm", Literal["convex", "concave"], "Whether an arc is curved outward or inward."),
    _fixed("BoreEnds", Literal["balls", "rods"], "What is at the ends of a stack in a bore."),
    _fixed("StackPosition", Literal["between", "over"], "Where a stack is by the pins."),
)
