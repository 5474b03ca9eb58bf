"""A gauge block on the shelf, what its length can be wrong by, and what its joints can be."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Final, Literal, TypeAlias

from wrung import grades
from wrung.calibrations import Calibration
from wrung.checked_types import CheckedStruct
from wrung.errors import Fault, InputError
from wrung.keeping import Keeping, kept
from wrung.lengths import QUANTA, Unit, mm
from wrung.names import repeats

Role: TypeAlias = Literal["gauge", "wear"]
"""A gauge block, or a wear block, which stands at the ends of stacks only."""

Section: TypeAlias = Literal["rectangular", "square"]
"""The shape of a block across its length; square blocks have a hole for a tie rod."""

LONG: Final = mm("100")
"""Longer blocks and stacks lie on two supports and are handled as long ones (ISO 3650, from
memory)."""

DEFAULT_JOINT_ALLOWANCE: Final = QUANTA["uin"]
"""1 µin (25.4 nm) a joint.

A block's length includes one wringing film (definition of ISO 3650; from memory), so a good joint
adds only what its film differs from that one. Films are 6 to 7 nm thick (web textbook
what-when-how.com, "Slip Gauges (Metrology)"); older reference works go up to about 25 nm (from
memory, not checked against print). The default takes the largest of these, to be on the safe side.
"""

_NOTHING_STATED: Final = Calibration()


class Block(CheckedStruct, frozen=True, kw_only=True):
    """One gauge block. All lengths are quanta of 0.01 nm; see `wrung.mm` and `wrung.inch`.

    A certified block has both ``deviation`` and ``expanded_uncertainty``. Any other has a
    ``limit_deviation`` or a ``grade``.

    Attributes:
        id: names the block; unique within a request.
        nominal: nominal length.
        deviation: certified deviation of the length from nominal.
        expanded_uncertainty: its expanded uncertainty.
        limit_deviation: largest deviation to expect of a block without certificate.
        grade: grade whose limit deviation holds for a block without certificate.
        material: material id, see `wrung.materials`.
        serial: serial number marked on it; tells it from others of its length, and is only passed
            on.
        set: the set it belongs to.
        role: ``"wear"`` for a wear block, which stands at the ends of a stack only.
        unit: unit its nominal is marked in; says which system of grades is meant.
        uses: how often it was used before, by its counter; see `wrung.preferences`.
        calibration: when and how it was calibrated; uncertified blocks may have it too.
        section: its shape across its length, where that is known.
        body: the step block of which it is a step. Blocks of one body are its steps: at any time
            only one of them can be used, as the highest block of one stack.
    """

    id: str
    nominal: int
    deviation: int | None = None
    expanded_uncertainty: int | None = None
    limit_deviation: int | None = None
    grade: str | None = None
    material: str | None = None
    serial: str | None = None
    set: str | None = None
    role: Role = "gauge"
    unit: Unit = "mm"
    uses: int = 0
    calibration: Calibration | None = None
    section: Section | None = None
    body: str | None = None

    @property
    def certified(self) -> bool:
        """Whether a certificate gives this block's deviation."""
        return self.deviation is not None

    @property
    def known_calibration(self) -> Calibration:
        """Its calibration; one that states nothing where it has none."""
        return self.calibration or _NOTHING_STATED


class Blocks(Keeping[Block]):
    """The blocks on a shelf, as a tuple.

    Whoever asks more than once of the same shelf should hand over the same `Blocks`, as
    `wrung.GaugeSet` lists them: with these, `wrung.solve` and `wrung.verify` keep what depends on
    the shelf alone. ``Blocks((*one.blocks(), *other.blocks()))`` joins two sets.
    """


def by_id(blocks: Sequence[Block]) -> Mapping[str, Block]:
    """The blocks by their ids."""
    return kept(blocks, "by id", lambda: {block.id: block for block in blocks})


def repeated_ids(blocks: Sequence[Block]) -> Iterator[Fault]:
    """The fault of each block whose id one before it has."""
    for place in repeats(block.id for block in blocks):
        detail = f"the id {blocks[place].id!r} is used twice"
        yield Fault(pointer=f"/blocks/{place}/id", detail=detail)


def margin(block: Block) -> int:
    """Half-width, in quanta, of what the block's length is uncertain by in the worst case.

    The expanded uncertainty of a certified block, else its limit deviation, else the limit of its
    grade; of a grade with unequal limits the larger one.

    Raises:
        InputError: the block has no usable statement of its error; pointers are relative to it.
    """
    # Half a certificate is a slip that a grade must not hide.
    if block.deviation is not None or block.expanded_uncertainty is not None:
        return _certified_margin(block)
    allowed = limits_of(block)
    return max(allowed.upper, -allowed.lower)


def limits_of(block: Block) -> grades.Limits:
    """The limits of a block's deviation without its certificate: those stated, or of its grade.

    Raises:
        InputError: neither is known; pointers are relative to it.
    """
    if block.limit_deviation is not None:
        return grades.Limits(upper=block.limit_deviation, lower=-block.limit_deviation)
    if block.grade is not None:
        return grades.limits(block.grade, block.nominal, block.unit)
    raise InputError.at("", _NO_STATEMENT)


def grade_row(block: Block) -> grades.GradeRow | None:
    """What its grade allows at its length; None without a grade, or where that has no limits.

    A certified block may be of any grade: it stands for itself.
    """
    try:
        found = grades.grade(block.grade, block.unit) if block.grade else None
        return None if found is None else found.row(block.nominal)
    except InputError:
        return None


_NO_STATEMENT = "the block needs deviation and expanded_uncertainty, or limit_deviation, or a grade"


def _certified_margin(block: Block) -> int:
    if block.expanded_uncertainty is None:
        detail = "a certified deviation needs its expanded_uncertainty"
        raise InputError.at("/expanded_uncertainty", detail)
    if block.deviation is None:
        detail = "an expanded uncertainty needs the certified deviation"
        raise InputError.at("/deviation", detail)
    return block.expanded_uncertainty
