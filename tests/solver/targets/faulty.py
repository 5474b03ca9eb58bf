"""What a target finds wrong with itself."""

import pytest

from wrung.errors import InputError
from wrung.targets import Target


def pointers(target: Target) -> set[str]:
    """The pointers of its faults; it must have some."""
    with pytest.raises(InputError) as caught:
        target.requirements()
    return {fault.pointer for fault in caught.value.faults}
