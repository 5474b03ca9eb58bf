"""Materials, and how the tables behind them and their like are read."""

import msgspec
import pytest

from wrung import tables
from wrung.errors import InputError
from wrung.materials import Material, all_materials, material


@pytest.mark.parametrize("found", all_materials(), ids=lambda found: found.id)
def test_every_material_is_found_by_its_id_and_states_its_source(found: Material) -> None:
    assert material(found.id) == found
    assert found.name
    assert found.source
    assert found.checked != "no" or "from memory" in found.source.lower()


@pytest.mark.parametrize("found", all_materials(), ids=lambda found: found.id)
def test_no_figure_is_zero_or_less(found: Material) -> None:
    """But the expansion of glass ceramic, which is made to be zero, within its limits."""
    figures = (found.expansion_limits, found.youngs_modulus, found.poissons_ratio, found.density)

    assert all(figure > 0 for figure in figures if figure is not None)
    assert found.expansion > 0 or found.expansion_limits


def test_ids_are_unique() -> None:
    ids = [found.id for found in all_materials()]

    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("name", ["cheese", "", "Steel"])
def test_an_unknown_material_is_pointed_at_with_those_there_are(name: str) -> None:
    with pytest.raises(InputError) as caught:
        material(name)

    (fault,) = caught.value.faults
    assert fault.pointer == "/material"
    assert fault.detail.endswith("; there are " + ", ".join(m.id for m in all_materials()))


class Narrow(msgspec.Struct, forbid_unknown_fields=True):
    """A shape that the table does not have."""

    somethings: list[str]


def test_a_table_of_another_shape_is_refused() -> None:
    """A misspelt member in the data is a loud mistake, not a silent default."""
    with pytest.raises(msgspec.ValidationError, match="compositions"):
        tables.load("compositions.toml", Narrow)


def test_every_length_and_figure_in_the_data_is_text() -> None:
    """No float stands in a table, or a length would be rounded before it is read."""
    for name in ("grades.toml", "compositions.toml", "materials.toml"):
        assert not [value for value in leaves(tables.load(name, dict)) if isinstance(value, float)]


def leaves(value: object) -> list[object]:
    if isinstance(value, dict):
        return [leaf for item in value.values() for leaf in leaves(item)]
    if isinstance(value, list):
        return [leaf for item in value for leaf in leaves(item)]
    return [value]
