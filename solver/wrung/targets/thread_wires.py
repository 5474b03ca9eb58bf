"""The pitch diameter of a screw thread, by the size over three wires.

With a half the thread angle, P the pitch, W the diameter of the wires and E the pitch diameter,
the axes of opposite wires are A = E - P/2 cot a + W / sin a apart, and the size over them is A + W
for a thread without lead. Wires of W = P / (2 cos a) touch at the pitch diameter (handbooks of
the workshop; ISO 68-1 and the Unified thread have 60 degrees).

In a helix the wires lie higher, by W (√(1/sin²a + q cot²a) - 1/sin a) with q = L² / (π² C A), L
being the lead and C the diameter at which the wires touch. Handbooks have E² in place of C A (from
memory), which makes the correction some 5 % too large. As it stands here, it is at most 3 % larger
than what a search for the points of contact finds, for lead angles up to 10 degrees, thread angles
of 29 to 60 degrees, wires of any size that touches, and pitch diameters from twice the pitch on;
for single starts by far less. The force of measuring, which flattens the wires, is not corrected.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Annotated, ClassVar, Final

from msgspec import Meta, Struct
from msgspec.structs import replace

from wrung.angles import DEGREE, from_radians, radians
from wrung.answers import Stack, Unmet
from wrung.errors import Fault, either, not_negative, positive, unless
from wrung.lengths import QUANTA
from wrung.measures import Angle, Deviation, Length, Margin, Ratio, Seconds
from wrung.real import PI, atan, cos, in_reals, nearest, sin, tan
from wrung.targets.contributions import (
    SizeInput,
    of_limits,
    partial_derivative,
    size_input,
    uncertainty_of,
)
from wrung.targets.size import FoundSize, SizeResult, SizeTarget

SIXTY: Final = 60 * DEGREE
_NARROWEST: Final = 29 * DEGREE
_STEEPEST: Final = 10 * DEGREE
"""Up to this lead angle the correction was compared with the points of contact."""
_OF_CORRECTION: Final = Decimal("0.03")
_SLENDEREST: Final = 2
"""Pitches in the smallest pitch diameter for which it was compared."""
_FLANKS: Final = (Decimal("0.375"), Decimal("0.25"))
_SHARP: Final = (Decimal("0.5"), Decimal("0.5"))
_OF_A_START: Final = Decimal("0.02")
_ROUNDS: Final = 40
_NEAR: Final = Decimal("1e-6")


class _Thread(Struct, frozen=True, kw_only=True):
    """A thread with its wires; lengths in quanta, the half angle in radians."""

    pitch_diameter: Decimal
    pitch: Decimal
    lead: Decimal
    wire: Decimal
    half: Decimal

    def axes(self) -> Decimal:
        """Distance of the axes of opposite wires, without lead."""
        rise = self.wire / sin(self.half) - self.pitch / (2 * tan(self.half))
        return self.pitch_diameter + rise

    def correction(self) -> Decimal:
        """How much higher the wires lie for the lead."""
        steep = 1 / sin(self.half)
        contact = self.pitch_diameter + 2 * self.contact()
        turned = self.lead**2 / (PI**2 * contact * self.axes())
        return self.wire * ((steep**2 + turned / tan(self.half) ** 2).sqrt() - steep)

    def over(self) -> Decimal:
        """Size over the wires."""
        return self.axes() + self.wire + self.correction()

    def lead_angle(self) -> Decimal:
        """Lead angle at the pitch diameter."""
        return atan(self.lead / (PI * self.pitch_diameter))

    def contact(self) -> Decimal:
        """How far outside the pitch line a wire touches the flank."""
        return (self.axes() - self.pitch_diameter - self.wire * sin(self.half)) / 2


class ThreadWiresTarget(SizeTarget, frozen=True, kw_only=True, tag="thread_wires"):
    """A stack for the size over three wires in a screw thread.

    In Python, lengths are in quanta of 0.01 nm, see `wrung.mm` and `wrung.inch`,
    and angles in quanta of 1e-9 seconds of arc, see `wrung.angle`.

    >>> target = ThreadWiresTarget(ref="plug", pitch=mm("1.5"), major_diameter=mm("10"),
    ...     wire_diameter=mm("0.866"))
    >>> [to_text(each.length, "mm") for each in target.requirements()]
    ['10.326']
    """

    cautions: ClassVar[tuple[str, ...]] = ("caution.light_touch", "caution.burr")

    pitch: Annotated[Length | None, Meta(description="Pitch of the thread.")] = None
    threads_per_inch: Annotated[
        Ratio | None, Meta(description="Threads an inch, in place of the pitch.")
    ] = None
    pitch_diameter: Annotated[Length | None, Meta(description="Wanted pitch diameter.")] = None
    major_diameter: Annotated[
        Length | None,
        Meta(
            description="Basic major diameter, in place of that: the pitch diameter is then the "
            "basic one of ISO 68-1 or the Unified thread."
        ),
    ] = None
    thread_angle: Annotated[
        Angle, Meta(description="Angle between the flanks: 60 for ISO metric and Unified threads.")
    ] = SIXTY
    lead: Annotated[
        Length | None, Meta(description="Lead of a thread with several starts; else the pitch.")
    ] = None
    wire_diameter: Annotated[
        Length | None, Meta(description="Diameter of the wires; left out, the best size.")
    ] = None
    wire_uncertainty: Annotated[Margin, uncertainty_of("the wires, which are alike")] = 0
    pitch_uncertainty: Annotated[Margin, uncertainty_of("the pitch")] = 0
    angle_uncertainty: Annotated[Seconds, uncertainty_of("the thread angle, in seconds")] = 0

    @property
    @in_reals
    def wanted_size(self) -> int:
        """The pitch diameter as wanted."""
        return nearest(self._thread().pitch_diameter)

    @in_reals
    def exact_length(self) -> int:
        """Size over the wires, to the nearest quantum."""
        return nearest(self._thread().over())

    @in_reals
    def size_with(self, length: int) -> int | None:
        """The pitch diameter for which that is the size over the wires."""
        thread = self._thread()
        size = thread.pitch_diameter + length - thread.over()
        # The correction hardly depends on the size, so that each step gains several digits.
        for _ in range(_ROUNDS):
            if size < _SLENDEREST * thread.pitch:
                return None
            off = length - replace(thread, pitch_diameter=size).over()
            size += off
            if abs(off) < _NEAR:
                break
        return nearest(size)

    @in_reals
    def slope(self) -> Decimal:
        """Change of the pitch diameter over that of the size over the wires."""
        return 1 / partial_derivative(_Thread.over, self._thread(), "pitch_diameter")

    @in_reals
    def inputs(self) -> tuple[SizeInput, ...]:
        """The wires, the thread, and what is not known of the correction."""
        thread, slope = self._thread(), self.slope()
        pitch = ("pitch",) if self.lead is not None else ("pitch", "lead")
        correction = of_limits(_OF_CORRECTION * thread.correction())
        by_wire, by_pitch, by_half = (
            -partial_derivative(_Thread.over, thread, *members) * slope
            for members in (("wire",), pitch, ("half",))
        )
        return (
            size_input("wire_diameter", self.wire_uncertainty, by_wire),
            size_input("pitch", self.pitch_uncertainty, by_pitch),
            size_input("thread_angle", self.angle_uncertainty, by_half / 2, is_angle=True),
            # It may only be too large; limits either way are the plainer and larger figure.
            SizeInput(
                quantity="helix_correction", standard_uncertainty=correction, sensitivity=-slope
            ),
        )

    def faults(self) -> Iterator[Fault | None]:
        """Sizes that are none, and wires that do not touch the flanks."""
        plain = tuple(self._plain_faults())
        yield from plain if any(plain) else self._geometry_faults()

    def too_short(self) -> tuple[str, str]:
        """The thread would be slenderer than any for which the correction is known."""
        return self._given_pitch(), "is more than half the pitch diameter"

    @in_reals
    def results(self, stacks: Sequence[Stack], _unmet: Sequence[Unmet] = ()) -> "ThreadWiresResult":
        """The pitch diameter that the stack as built stands for."""
        thread = self._thread()
        return ThreadWiresResult(
            **self.in_common(stacks),
            pitch_diameter=self.found(stacks),
            wire_diameter=nearest(thread.wire),
            best_wire_diameter=nearest(_best(thread)),
            lead_angle=from_radians(thread.lead_angle()),
            helix_correction=nearest(thread.correction()),
        )

    @in_reals
    def _thread(self) -> _Thread:
        if self.pitch is not None:
            pitch = Decimal(self.pitch)
        else:
            pitch = QUANTA["in"] / (self.threads_per_inch or Decimal(1))
        size = self.pitch_diameter
        # ISO 68-1: less twice 3/8 H, with H = √3/2 P.
        basic = (self.major_diameter or 0) - pitch * Decimal(3).sqrt() * 3 / 8
        thread = _Thread(
            pitch_diameter=basic if size is None else Decimal(size),
            pitch=pitch,
            lead=pitch if self.lead is None else Decimal(self.lead),
            wire=Decimal(self.wire_diameter or 0),
            half=radians(self.thread_angle) / 2,
        )
        return thread if self.wire_diameter is not None else replace(thread, wire=_best(thread))

    def _given_pitch(self) -> str:
        """The member that states it."""
        return "pitch" if self.pitch is not None else "threads_per_inch"

    def _plain_faults(self) -> Iterator[Fault | None]:
        yield from positive(
            self, "pitch", "threads_per_inch", "pitch_diameter", "major_diameter", "lead",
            "wire_diameter",
        )  # fmt: skip
        yield from not_negative(self, "wire_uncertainty", "pitch_uncertainty", "angle_uncertainty")
        yield either(self, "pitch", "threads_per_inch")
        yield unless(
            self._has_whole_starts(),
            "lead",
            "is no whole multiple of the pitch: one for each start",
        )
        yield either(self, "pitch_diameter", "major_diameter")
        yield unless(
            self.major_diameter is None or self.thread_angle == SIXTY,
            "major_diameter",
            "gives the pitch diameter only of threads of 60 degrees; give pitch_diameter",
        )
        yield unless(
            _NARROWEST <= self.thread_angle <= SIXTY,
            "thread_angle",
            "must be from 29 to 60 degrees",
        )

    @in_reals
    def _has_whole_starts(self) -> bool:
        """Whether the lead is a whole number of pitches, as near as inch threads are written."""
        pitch = self._thread().pitch
        if self.lead is None or self.lead <= 0 or pitch <= 0:
            return True
        starts = self.lead / pitch
        return abs(starts - max(round(starts), 1)) <= _OF_A_START

    @in_reals
    def _geometry_faults(self) -> tuple[Fault | None, ...]:
        thread = self._thread()
        if thread.pitch_diameter < _SLENDEREST * thread.pitch or thread.axes() <= 0:
            member, detail = self.too_short()
            return (Fault(pointer=f"/{member}", detail=detail),)
        height = thread.pitch / (2 * tan(thread.half))
        # The flanks of ISO 68-1 end at 3/8 H outside the pitch line and 1/4 H inside it; of other
        # threads it is only known that they end at the sharp crests and roots.
        out, inward = _FLANKS if self.thread_angle == SIXTY else _SHARP
        crest = out * height if self.thread_angle == SIXTY else Decimal(0)
        contact = thread.contact()
        top = (thread.axes() + thread.wire - thread.pitch_diameter) / 2
        return (
            unless(
                -inward * height <= contact and top > crest,
                "wire_diameter",
                "the wires are so thin that they do not rise above the thread",
            ),
            unless(
                contact <= out * height,
                "wire_diameter",
                "the wires are so thick that they do not touch the flanks",
            ),
            unless(
                from_radians(thread.lead_angle()) <= _STEEPEST,
                "lead" if self.lead is not None else self._given_pitch(),
                "the lead angle is more than 10 degrees: the correction is not known so far",
            ),
        )


class ThreadWiresResult(SizeResult, frozen=True, kw_only=True, tag="thread_wires"):
    """The pitch diameter of a thread, by three wires."""

    pitch_diameter: Annotated[FoundSize, Meta(description="The pitch diameter.")]
    wire_diameter: Annotated[Length, Meta(description="Diameter of the wires.")]
    best_wire_diameter: Annotated[
        Length, Meta(description="Diameter of wires that touch at the pitch diameter.")
    ]
    lead_angle: Annotated[Angle, Meta(description="Lead angle at the pitch diameter.")]
    helix_correction: Annotated[
        Deviation,
        Meta(
            description="What the lead adds to the size over the wires; contained in "
            "`exact_length`. The force of measuring is not corrected."
        ),
    ]


def _best(thread: _Thread) -> Decimal:
    return thread.pitch / (2 * cos(thread.half))
