"""What holds of every kind of target."""

import re
from decimal import Decimal
from typing import Annotated, ClassVar, Literal, get_args, get_origin, get_type_hints

import msgspec
import pytest

from solver.targets.samples import SAMPLES
from wrung import GaugeSet, Unit, inch, mm, solve, verify
from wrung.errors import InputError
from wrung.measures import Measure
from wrung.targets import (
    CentreDistanceTarget,
    GearPinsTarget,
    LengthTarget,
    LimitsTarget,
    Target,
    TargetResult,
    TwoRollsTarget,
    placed_requirements,
    results,
    usual_step,
)
from wrung.texts import Phrase, keys

KINDS = get_args(Target)
SHELF = (
    *GaugeSet(id="m112", composition="metric-112-1", grade="1").blocks(),
    *GaugeSet(id="m88", composition="metric-88-1", grade="1").blocks(),
    *GaugeSet(id="m47", composition="metric-47-a", grade="1").blocks(),
)


def test_there_is_a_sample_of_every_kind() -> None:
    assert {type(sample) for sample in SAMPLES} == set(KINDS)


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.ref)
class TestEveryKind:
    def test_its_stacks_are_named_after_it(self, sample: Target) -> None:
        for requirement in sample.requirements():
            assert requirement.target == sample.ref
            assert requirement.length > 0
        names = [requirement.name for requirement in sample.requirements()]
        assert len(set(names)) == len(names)

    def test_without_stacks_it_still_answers_what_needs_none(self, sample: Target) -> None:
        found = sample.results(())

        assert found.target == sample.ref
        assert isinstance(found, TargetResult)

    def test_it_survives_the_way_through_json(self, sample: Target) -> None:
        again = msgspec.json.decode(msgspec.json.encode(sample), type=Target)

        assert again == sample

    def test_target_and_result_have_the_same_tag(self, sample: Target) -> None:
        config = type(sample).__struct_config__
        result = type(sample.results(())).__struct_config__

        assert (config.tag, config.tag_field) == (result.tag, "kind")

    def test_its_result_is_announced_by_its_type(self, sample: Target) -> None:
        announced = get_type_hints(type(sample).results)["return"]

        assert type(sample.results(())) is announced

    def test_its_cautions_have_words(self, sample: Target) -> None:
        assert set(sample.cautions) <= keys("en")
        assert sample.cautions

    def test_every_number_says_what_it_measures(self, sample: Target) -> None:
        """A count needs none; the figures of a phrase say it themselves."""
        for struct in (type(sample), type(sample.results(()))):
            assert set(unmeasured(struct)) <= {"max_blocks", "number_of_teeth", "place", "priority"}


def unmeasured(struct: type[msgspec.Struct]) -> list[str]:
    """Members, also of the Structs within, that hold plain whole numbers."""
    # A phrase may hold another one, and so on; its figures say themselves what they measure.
    if struct is Phrase:
        return []
    found = []
    for name, hint in get_type_hints(struct, include_extras=True).items():
        if get_origin(hint) is ClassVar:
            continue
        found += [name] * _plain_int(hint)
        found += [f for inner in _structs(hint) for f in unmeasured(inner)]
    return found


def _plain_int(hint: object) -> bool:
    if get_origin(hint) is Annotated and any(isinstance(m, Measure) for m in get_args(hint)[1:]):
        return False
    if hint is int:
        return True
    return get_origin(hint) is not Literal and any(_plain_int(each) for each in get_args(hint))


def _structs(hint: object) -> list[type[msgspec.Struct]]:
    if isinstance(hint, type) and issubclass(hint, msgspec.Struct):
        return [] if hint is Phrase else [hint]
    return [struct for each in get_args(hint) for struct in _structs(each)]


def test_all_kinds_are_planned_in_one_request_and_checked() -> None:
    """The joint answer is proven, holds before the checker, and gives every result."""
    answer = solve(SHELF, SAMPLES, time_limit_ms=60_000)
    found = results(SAMPLES, answer, SHELF)

    assert not answer.unmet
    assert verify(SHELF, SAMPLES, answer) == ()
    assert [each.target for each in found] == [sample.ref for sample in SAMPLES]


def test_faults_of_a_target_are_pointed_into_the_request() -> None:
    bad = LimitsTarget(ref="b", lower=5, upper=4)

    with pytest.raises(InputError) as caught:
        placed_requirements([SAMPLES[0], bad])

    assert [fault.pointer for fault in caught.value.faults] == ["/targets/1/upper"]


@pytest.mark.parametrize("ref", ["a/go", "a (go)", "a/not_go", "go"])
def test_no_ref_of_a_user_is_taken_for_a_stack_of_another_target(ref: str) -> None:
    targets: list[Target] = [
        LimitsTarget(ref="a", lower=4, upper=5),
        LengthTarget(ref=ref, length=3),
    ]

    names = [each.requirement.name for each in placed_requirements(targets)]

    assert len(set(names)) == 3


def test_a_ref_is_used_once() -> None:
    targets = [LengthTarget(ref="a", length=3), LengthTarget(ref="a", length=4)]

    with pytest.raises(InputError) as caught:
        placed_requirements(targets)

    assert [fault.pointer for fault in caught.value.faults] == ["/targets/1/ref"]


@pytest.mark.parametrize(
    "target",
    [
        # Of the largest of these lengths not even the quanta fit the integers of a search.
        TwoRollsTarget(ref="long", angle=1, large_roll=mm("25"), small_roll=mm("10")),
        GearPinsTarget(ref="long", number_of_teeth=24, diametral_pitch=Decimal("1e-12")),
        CentreDistanceTarget(
            ref="long", centre_distance=mm("9999"), first_pin=mm("10"), stack_position="over"
        ),
    ],
    ids=lambda target: type(target).__name__,
)
def test_no_target_needs_a_stack_longer_than_any_length_that_is_read(target: Target) -> None:
    with pytest.raises(InputError, match="beyond the longest length of 10 m") as caught:
        solve(SHELF, [target])

    assert [fault.pointer for fault in caught.value.faults] == ["/targets/0"]


def test_roles_are_spelt_in_one_way() -> None:
    """Small letters, digits and underscores, so that each is a name in any language."""
    roles = {r.role for sample in SAMPLES for r in sample.requirements() if r.role}

    assert roles >= {"go", "not_go", "base", "top", "large_ball", "point_1"}
    assert all(re.fullmatch("[a-z]+(_[a-z0-9]+)*", role) for role in roles)


def test_a_target_that_needs_no_stack_can_stand_alone() -> None:
    angle_blocks = SAMPLES[-1]
    answer = solve(SHELF, [angle_blocks])

    assert answer.outcome == "optimal"
    assert answer.stacks == ()
    assert answer.cases[0].plan.bounds.served == 1


@pytest.mark.parametrize(
    ("composition", "unit", "step"),
    [
        ("metric-112-1", "mm", mm("0.001")),
        ("metric-47-a", "mm", mm("0.005")),
        ("metric-78", "mm", mm("0.0025")),
        ("inch-81", "in", inch("0.0001")),
        ("inch-81", "mm", mm("0.001")),
        ("metric-long-8", "mm", mm("0.001")),
    ],
)
def test_the_usual_step_is_a_shop_s_or_that_of_coarser_blocks(
    composition: str, unit: Unit, step: int
) -> None:
    blocks = GaugeSet(id="s", composition=composition, limit_deviation=1).blocks()

    assert usual_step(blocks, unit) == step
