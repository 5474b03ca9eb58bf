"""One sound target of every kind, metric, for what must hold of all of them."""

from wrung.angles import angle
from wrung.lengths import inch, mm, um
from wrung.targets import (
    Accessory,
    AngleBlocksTarget,
    BenchCentresTarget,
    BetweenJawsTarget,
    CentreDistanceTarget,
    CheckPointsTarget,
    ComparisonTarget,
    CompoundSineTarget,
    DepthSettingTarget,
    DovetailTarget,
    ExternalTaperTarget,
    FitTarget,
    GearPinsTarget,
    GeneralToleranceTarget,
    HeightSettingTarget,
    InchFitTarget,
    InternalTaperTarget,
    LadderTarget,
    LengthTarget,
    LimitsTarget,
    RadiusGaugeTarget,
    RingBoreTarget,
    SineBar,
    SineTarget,
    Target,
    ThreadWiresTarget,
    TwoRollsTarget,
    VBlockTarget,
)

BAR = SineBar(centre_distance=mm("100"), expanded_uncertainty=um("1"))

SAMPLES: tuple[Target, ...] = (
    LengthTarget(ref="length", length=mm("12.345")),
    LimitsTarget(ref="limits", lower=mm("8.01"), upper=mm("8.05")),
    FitTarget(ref="fit", nominal=mm("12"), tolerance_class="P9", mating_class="h9"),
    InchFitTarget(ref="inch_fit", nominal=inch("1.25"), fit_class="RC4", rounded_to=mm("0.001")),
    GeneralToleranceTarget(ref="general", nominal=mm("40"), general_class="m"),
    SineTarget(ref="sine", bar=BAR, angle=angle("22°30'")),
    CompoundSineTarget(
        ref="compound",
        base=BAR,
        top=BAR,
        angles_given_as="views",
        first_angle=angle("10"),
        second_angle=angle("15"),
    ),
    CheckPointsTarget(ref="micrometer", series="metric-0.5", range_from=mm("25")),
    ComparisonTarget(
        ref="comparison",
        nominal=mm("31.25"),
        lower_deviation=-um("10"),
        upper_deviation=um("10"),
    ),
    BetweenJawsTarget(
        ref="jaws",
        size=mm("42.13"),
        accessories=(Accessory(thickness=mm("5"), effect="adds"),) * 2,
    ),
    ExternalTaperTarget(
        ref="plug",
        included_angle=angle("8"),
        small_end=mm("20"),
        roll_diameter=mm("10"),
        stack_length=mm("30"),
    ),
    InternalTaperTarget(
        ref="bore",
        included_angle=angle("10"),
        large_end=mm("30"),
        large_ball=mm("26"),
        small_ball=mm("18"),
    ),
    TwoRollsTarget(ref="rolls", angle=angle("20"), large_roll=mm("25"), small_roll=mm("10")),
    DovetailTarget(
        ref="dovetail",
        form="female",
        angle=angle("60"),
        width=mm("50"),
        roll_diameter=mm("8"),
    ),
    CentreDistanceTarget(
        ref="holes", centre_distance=mm("62.5"), first_pin=mm("10"), second_pin=mm("12")
    ),
    VBlockTarget(ref="shaft", cylinder_diameter=mm("30"), vertex_height=mm("12")),
    RadiusGaugeTarget(ref="arc", form="convex", radius=mm("40"), roll_diameter=mm("10")),
    RingBoreTarget(ref="ring", ends="balls", bore=mm("200"), first_end=mm("20")),
    ThreadWiresTarget(
        ref="thread", pitch=mm("1.5"), major_diameter=mm("10"), wire_diameter=mm("0.866")
    ),
    GearPinsTarget(ref="pinion", number_of_teeth=24, module=mm("2"), pin_diameter=mm("3.5")),
    HeightSettingTarget(ref="height", height=mm("187.25"), riser=mm("150")),
    DepthSettingTarget(ref="depth", depth=mm("37.5")),
    BenchCentresTarget(
        ref="shaft 2", diameter=mm("32"), master_diameter=mm("25"), master_height=mm("87.5")
    ),
    LadderTarget(ref="ladder", lowest=mm("10"), step=mm("0.01"), highest=mm("10.03")),
    AngleBlocksTarget(ref="blocks", angle=angle("33°11'36\""), composition="angle-16"),
)
