"""What the form of a kind asks for: its members, read off its Struct in the library."""

from collections.abc import Callable, Iterator, Mapping
from functools import cache
from typing import Final, Literal, TypeAlias, get_args, get_origin, get_type_hints

import msgspec
from msgspec import Struct

from wrung.angle_blocks.compositions import all_angle_compositions
from wrung.instruments.check_points import all_series
from wrung.materials import all_materials
from wrung.measures import Measure
from wrung.tapers import all_tapers
from wrung_service.api.kinds.found import result_of
from wrung_service.api.kinds.hints import core, element_of, is_library_only, measure_of, struct_of
from wrung_service.api.kinds.shapes import Hint
from wrung_service.api.kinds.wanted import KINDS

How: TypeAlias = Literal["length", "angle", "figure", "whole", "text", "choice", "flag"]

# The page has its own place for these.
_ELSEWHERE: Final = frozenset(
    {"ref", "needed_from", "needed_until", "setup", "priority", "labels", "wear_blocks"}
)
_PARTS: Final = 2
"""How many parts, such as jaws, a form has room for."""

_FIRST: Final[Mapping[str, tuple[str, ...]]] = {
    "limits": ("lower", "upper", "feature"),
    "fit": ("mating_class",),
    "inch_fit": ("feature",),
    "general_tolerance": ("feature",),
    "check_points": ("instrument", "series", "points"),
    "between_jaws": ("accessories.0.thickness", "accessories.0.effect"),
    "two_rolls": ("arrangement",),
    "centre_distance": ("second_pin", "measured_to", "stack_position"),
    "v_block": ("master_diameter", "master_height", "vertex_height"),
    "ring_bore": ("shorter_by", "measured_rock"),
    "thread_wires": (
        *("pitch", "threads_per_inch", "pitch_diameter", "major_diameter", "wire_diameter"),
    ),
    "gear_pins": ("module", "diametral_pitch", "tooth_thickness", "pin_diameter"),
    "sine": ("angle", "taper.designation"),
    "external_taper": ("included_angle", "taper.designation"),
    "internal_taper": ("included_angle", "taper.designation"),
}
"""Members that are used often, though they may be left out."""

_LISTS: Final[Mapping[str, Callable[[], tuple[str, ...]]]] = {
    "designation": lambda: tuple(each.designation for each in all_tapers()),
    "composition": lambda: tuple(each.id for each in all_angle_compositions()),
    "grade": lambda: ("laboratory", "inspection", "toolroom"),
    "series": lambda: tuple(each.id for each in all_series()),
    "material": lambda: tuple(each.id for each in all_materials()),
    "roll_material": lambda: tuple(each.id for each in all_materials()),
    "stack_material": lambda: tuple(each.id for each in all_materials()),
    "part_material": lambda: tuple(each.id for each in all_materials()),
}
"""Members that are free text on the wire, but name one of what there is."""


class Member(Struct, frozen=True, kw_only=True):
    """A field of a form.

    Attributes:
        name: dotted, with the number of its part where there are several.
        part: the part that it belongs to; without any typed member the part is not there.
        first: whether it is asked at once, not only behind a button.
        many: whether several values are typed, with gaps between.
        default: the choice, where nothing is chosen.
    """

    name: str
    part: str
    how: How
    measure: Measure | None
    required: bool
    first: bool
    many: bool = False
    choices: tuple[str, ...] = ()
    default: str = ""

    @property
    def word(self) -> str:
        """Its name without the numbers of parts."""
        return plain_name(self.name)


def plain_name(name: str) -> str:
    """The name of a member without the numbers of parts."""
    return ".".join(each for each in name.split(".") if not each.isdigit())


@cache
def kinds_by_name() -> Mapping[str, type[Struct]]:
    """All kinds but the plain length, as they are sent."""
    return {str(kind.__struct_config__.tag): kind for kind in KINDS}


@cache
def members_of(kind: str) -> tuple[Member, ...]:
    """The form of a kind, required members first; empty for a plain length or no kind at all."""
    found = kinds_by_name().get(kind)
    if found is None:
        return ()
    members = [*_members(found, _FIRST.get(kind, ()))]
    return tuple(sorted(members, key=lambda each: (not each.first, not each.required)))


def has_one_stack(kind: str) -> bool:
    """Whether a target of the kind has a single stack, whatever is typed."""
    found = kinds_by_name().get(kind)
    return found is None or "stack" in result_of(found).__struct_fields__


def takes_wear_blocks(kind: str) -> bool:
    """Whether stacks of the kind may carry wear blocks."""
    found = kinds_by_name().get(kind)
    return found is not None and "wear_blocks" in found.__struct_fields__


def _members(
    kind: type[Struct], often: tuple[str, ...], prefix: str = "", part: str = ""
) -> Iterator[Member]:
    hints = get_type_hints(kind, include_extras=True)
    for field in msgspec.structs.fields(kind):
        hint, name = hints[field.name], prefix + field.name
        if is_library_only(hint) or field.name in _ELSEWHERE:
            continue
        element = element_of(hint)
        inner = struct_of(hint if element is None else element)
        if inner is None:
            yield _member(field, hint if element is None else element, name, part, often)
        elif element is None:
            # What may be left out is a part of its own: not there unless something is typed.
            yield from _members(inner, often, f"{name}.", part if field.required else name)
        else:
            for place in range(_PARTS):
                yield from _members(inner, often, f"{name}.{place}.", f"{name}.{place}")


def _member(
    field: msgspec.structs.FieldInfo, hint: Hint, name: str, part: str, often: tuple[str, ...]
) -> Member:
    measure, choices = measure_of(hint), _choices(hint, name)
    default = field.default if isinstance(field.default, str) else ""
    return Member(
        name=name,
        part=part,
        how=_how(measure, choices, core(hint)),
        measure=measure,
        required=field.required,
        first=name in often or (field.required and not part),
        many=field.default == (),
        choices=choices,
        default=default or (choices[0] if choices and field.required else ""),
    )


def _choices(hint: Hint, name: str) -> tuple[str, ...]:
    last = name.rpartition(".")[2]
    if last in _LISTS:
        return _LISTS[last]()
    inner = core(hint)
    origin: Hint = get_origin(inner)
    return get_args(inner) if origin is Literal else ()


def _how(measure: Measure | None, choices: tuple[str, ...], plain: Hint) -> How:
    if choices:
        return "choice"
    if measure in (Measure.LENGTH, Measure.DIFFERENCE):
        return "length"
    if measure is Measure.ANGLE:
        return "angle"
    if measure is not None:
        return "figure"
    return "flag" if plain is bool else "whole" if plain is int else "text"
