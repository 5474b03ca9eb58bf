"""Plain lengths, and settings that an indicator or a gauge is zeroed on."""

from wrung.handwork.uses.use import Uses, stated
from wrung.measures import Measure
from wrung.targets import BetweenJawsResult, BetweenJawsTarget, ComparisonResult
from wrung.targets.built import BuiltLength
from wrung.texts import Phrase, figure, phrase


def length(stack: BuiltLength) -> tuple[str | None, Phrase]:
    """What the stack stands for, and what it is."""
    return stack.role, phrase(
        "use.length",
        figure("wanted", stack.wanted_length, Measure.LENGTH, "stated"),
        figure("length", stack.length, Measure.LENGTH),
        figure("margin", stack.margin, Measure.MARGIN),
    )


def comparison(result: ComparisonResult, *_: object) -> Uses:
    """Zero on the stack, and the readings between which a part is accepted."""
    if result.stack is not None:
        yield result.stack.role, phrase("use.zero_indicator")
        yield result.stack.role, _accept(result.reading_at_lower, result.reading_at_upper)


def between_jaws(result: BetweenJawsResult, target: BetweenJawsTarget, *_: object) -> Uses:
    """The accessories, the setting, and the readings between which the work is accepted."""
    if result.stack is None or result.setting is None:
        return
    role, lower, upper = result.stack.role, result.reading_at_lower, result.reading_at_upper
    setting = figure("setting", result.setting, Measure.LENGTH)
    if target.accessories:
        sizes = stated("sizes", *(each.thickness for each in target.accessories))
        yield role, phrase("use.jaws_of", setting, sizes)
    else:
        yield role, phrase("use.jaws", setting)
    if lower is not None or upper is not None:
        yield role, _accept(lower, upper)


def _accept(lower: int | None, upper: int | None) -> Phrase:
    if lower is None:
        return phrase("use.accept_to", figure("upper", upper or 0, Measure.DEVIATION, "most"))
    low = figure("lower", lower, Measure.DEVIATION, "least")
    if upper is None:
        return phrase("use.accept_from", low)
    return phrase("use.accept", low, figure("upper", upper, Measure.DEVIATION, "most"))
