"""Compositions: what the loader holds to, and what is refused."""

import pytest

from wrung.compositions import Composition, Series, all_compositions, composition
from wrung.errors import InputError
from wrung.lengths import mm, parse, to_text
from wrung.markings import usual_marking


@pytest.mark.parametrize("found", all_compositions(), ids=lambda found: found.id)
class TestEveryComposition:
    def test_states_its_source_and_whether_it_was_checked(self, found: Composition) -> None:
        assert found.name
        assert found.source
        assert ("from memory" in found.source.lower()) == (found.checked == "no")

    def test_lists_its_lengths_ascending(self, found: Composition) -> None:
        assert list(found.nominals) == sorted(found.nominals)
        assert found.nominals[0] > 0

    def test_has_every_length_once_unless_it_is_a_pair_of_wear_blocks(
        self, found: Composition
    ) -> None:
        distinct = len(set(found.nominals))

        assert (found.role == "wear") == found.id.startswith("wear-")
        assert distinct == (1 if found.role == "wear" else found.count)

    def test_has_lengths_that_are_exact_text_in_its_unit(self, found: Composition) -> None:
        texts = [to_text(nominal, found.unit) for nominal in found.nominals]

        assert [parse(text, found.unit) for text in texts] == list(found.nominals)

    def test_is_found_by_its_id_and_every_alias(self, found: Composition) -> None:
        assert {composition(name).id for name in (found.id, *found.aliases)} == {found.id}


def test_no_name_means_two_compositions() -> None:
    names = [name for found in all_compositions() for name in (found.id, *found.aliases)]

    assert len(names) == len(set(names))


@pytest.mark.parametrize(
    ("alias", "meant"),
    [
        ("metric-112", "metric-112-1"),
        ("metric-88", "metric-88-1"),
        ("metric-46", "metric-46-1"),
    ],
)
def test_the_bare_number_means_the_set_on_a_1_mm_base(alias: str, meant: str) -> None:
    assert composition(alias).id == meant


@pytest.mark.parametrize("name", ["metric-47", "metric-87"])
def test_a_number_that_several_sets_go_by_is_refused_with_their_names(name: str) -> None:
    with pytest.raises(InputError) as caught:
        composition(name)

    (fault,) = caught.value.faults
    assert fault.pointer == "/composition"
    assert f"{name}-a, {name}-b" in fault.detail


@pytest.mark.parametrize("name", ["inch-82", "", "INCH-81", "inch-81 ", "metric-8"])
def test_an_unknown_composition_is_pointed_at(name: str) -> None:
    with pytest.raises(InputError) as caught:
        composition(name)

    assert [fault.pointer for fault in caught.value.faults] == ["/composition"]


@pytest.mark.parametrize(
    ("start", "stop", "step", "count"),
    [(1, 10, 1, 9), (1, 9, 2, 9), (1, 1, 0, 0), (9, 1, 1, 9)],
)
def test_a_series_that_contradicts_itself_is_refused(
    start: int, stop: int, step: int, count: int
) -> None:
    with pytest.raises(ValueError, match="contradict"):
        Series(start=start, stop=stop, step=step, count=count)


def test_a_series_without_step_is_blocks_of_one_length() -> None:
    assert Series(start=5, stop=5, step=0, count=2).nominals() == (5, 5)


@pytest.mark.parametrize(
    ("count", "total", "said"), [(3, "6", "2 blocks, not 3"), (2, "5", "add up to 6, not 5")]
)
def test_a_composition_that_miscounts_or_adds_up_wrongly_is_refused(
    count: int, total: str, said: str
) -> None:
    """The declared number of blocks and the declared sum are held to."""
    with pytest.raises(ValueError, match=said):
        Composition(
            id="two",
            name="two blocks",
            unit="mm",
            series=(Series(start=mm("2"), stop=mm("4"), step=mm("2"), count=2),),
            nominals=(mm("2"), mm("4")),
            count=count,
            total=mm(total),
            source="made up",
            checked="no",
            marking=usual_marking("mm"),
        )
