"""What callers hand over, made safe to be read more than once."""

from collections.abc import Callable, Iterable
from functools import wraps
from typing import ParamSpec, TypeVar, cast

_P = ParamSpec("_P")
_R = TypeVar("_R")


def with_tuples(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """The function, with a tuple in the place of each iterator or list among its arguments.

    An iterator is empty when it is read again, and a list may change while a search goes on;
    every public function that takes several of anything is decorated with it.
    """
    # A tuple stands for any of them, which type checkers cannot know.
    loose = cast("Callable[..., _R]", function)

    @wraps(function)
    def called(*args: _P.args, **kwargs: _P.kwargs) -> _R:
        return loose(*map(_kept, args), **{name: _kept(value) for name, value in kwargs.items()})

    return called


def _kept(value: object) -> object:
    # A set is left as it is: it can be read again, and looks up faster. What has `__next__` is an
    # iterator; `isinstance` takes four times as long to say so.
    if not (isinstance(value, list) or hasattr(value, "__next__")):
        return value
    return tuple(cast("Iterable[object]", value))
