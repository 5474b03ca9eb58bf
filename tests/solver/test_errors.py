"""What the library raises."""

import copy
import pickle
from collections.abc import Callable

import pytest

from wrung import Fault, InputError, LengthError, WrungError, solve
from wrung.lengths import parse


def pickled(error: WrungError) -> WrungError:
    copied = pickle.loads(pickle.dumps(error))  # noqa: S301 -- our own
    assert isinstance(copied, WrungError)
    return copied


@pytest.mark.parametrize("again", [pickled, copy.copy])
def test_an_input_error_comes_whole_out_of_another_process(
    again: Callable[[InputError], InputError],
) -> None:
    """Searches in a pool of processes hand it on by pickle."""
    error = InputError([Fault(pointer="/blocks/0/grade", detail="no such grade"), FAULT])

    copied = again(error)

    assert type(copied) is InputError
    assert copied.faults == error.faults
    assert str(copied) == str(error)


FAULT = Fault(pointer="", detail="the block needs a grade")


def test_every_exception_of_the_library_can_be_pickled() -> None:
    """Those that are raised for callers, as they are raised."""
    raised: list[WrungError] = []
    for fail in (lambda: parse("x", "mm"), lambda: solve([], [], time_limit_ms=-1)):
        with pytest.raises(WrungError) as caught:
            fail()
        raised.append(caught.value)

    copies = [pickled(error) for error in raised]

    assert [type(each) for each in copies] == [LengthError, InputError]
    assert list(map(str, copies)) == list(map(str, raised))
