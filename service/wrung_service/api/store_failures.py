"""What the store ends with, as problems."""

from collections.abc import Mapping
from typing import Final

from msgspec.structs import asdict

from wrung_service.api.problem_types import (
    BLOCKS_TAKEN,
    CONFLICT,
    KEY_REUSED,
    NOT_FOUND,
    PRECONDITION_FAILED,
    PRECONDITION_REQUIRED,
    STORE_UNAVAILABLE,
    ProblemType,
)
from wrung_service.api.problems import Refusal, TakenBlock
from wrung_service.store.errors import (
    AbsentError,
    ExistsError,
    KeyReusedError,
    StateError,
    StoreError,
    TakenError,
    UnavailableError,
    UnknownError,
    VersionError,
    VersionNeededError,
)

_KINDS: Final[Mapping[type[StoreError], ProblemType]] = {
    UnknownError: NOT_FOUND,
    AbsentError: PRECONDITION_FAILED,
    VersionError: PRECONDITION_FAILED,
    ExistsError: PRECONDITION_FAILED,
    VersionNeededError: PRECONDITION_REQUIRED,
    KeyReusedError: KEY_REUSED,
    StateError: CONFLICT,
}


def as_refusal(error: StoreError) -> Refusal:
    """The problem that an error of the store is, where its address is what was asked for."""
    detail = str(error)
    match error:
        case TakenError():
            taken = tuple(TakenBlock(**asdict(each)) for each in error.holders)
            return Refusal(BLOCKS_TAKEN, detail, taken=taken)
        case UnavailableError():
            headers = {"Retry-After": str(error.retry_after)}
            return Refusal(STORE_UNAVAILABLE, detail, headers=headers)
        case _ if type(error) in _KINDS:
            return Refusal(_KINDS[type(error)], detail)
        case _:
            raise error
