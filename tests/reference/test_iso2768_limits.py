"""General tolerances against ISO 2768-1, table 1, typed a second time from memory."""

import pytest

from wrung.errors import InputError
from wrung.fits import iso2768
from wrung.lengths import mm, to_text

# From memory, and as the open package rf-tolerance has it: f m c v, in ± mm; "-" is not given.
PRINTED = {
    ("0.5", "3"): "0.05 0.1 0.2 -",
    ("3.001", "6"): "0.05 0.1 0.3 0.5",
    ("6.001", "30"): "0.1 0.2 0.5 1",
    ("30.001", "120"): "0.15 0.3 0.8 1.5",
    ("120.001", "400"): "0.2 0.5 1.2 2.5",
    ("400.001", "1000"): "0.3 0.8 2 4",
    ("1000.001", "2000"): "0.5 1.2 3 6",
    ("2000.001", "4000"): "- 2 4 8",
}


@pytest.mark.parametrize("ends", PRINTED)
@pytest.mark.parametrize(("place", "name"), [*enumerate("fmcv")])
def test_both_ends_of_each_range(ends: tuple[str, str], place: int, name: str) -> None:
    printed = PRINTED[ends].split()[place]

    for size in ends:
        if printed == "-":
            with pytest.raises(InputError):
                iso2768.limits(mm(size), name)
        else:
            found = iso2768.limits(mm(size), name)
            assert to_text(found.upper_deviation, "mm") == printed
            assert found.lower_deviation == -found.upper_deviation


@pytest.mark.parametrize(
    ("size", "name", "pointer"),
    [("0.499", "m", "/nominal"), ("4000.1", "m", "/nominal"), ("5", "x", "/general_class")],
)
def test_what_the_standard_does_not_give_is_refused(size: str, name: str, pointer: str) -> None:
    with pytest.raises(InputError) as caught:
        iso2768.limits(mm(size), name)

    assert [fault.pointer for fault in caught.value.faults] == [pointer]
