"""What the store ends with, as problems."""

from msgspec.structs import asdict

from wrung_service.api.problem_types import (
    BLOCKS_TAKEN,
    CONFLICT,
    KEY_REUSED,
    NOT_FOUND,
    PRECONDITION_FAILED,
    STORE_UNAVAILABLE,
)
from wrung_service.api.problems import Refusal, TakenBlock
from wrung_service.store.errors import (
    ExistsError,
    KeyReusedError,
    StateError,
    StoreError,
    TakenError,
    UnavailableError,
    UnknownError,
    VersionError,
)


def as_refusal(error: StoreError) -> Refusal:
    """The problem that an error of the store is, where its address is what was asked for."""
    detail = str(error)
    match error:
        case UnknownError():
            return Refusal(NOT_FOUND, detail)
        case VersionError() | ExistsError():
            return Refusal(PRECONDITION_FAILED, detail)
        case TakenError():
            taken = tuple(TakenBlock(**asdict(each)) for each in error.holders)
            return Refusal(BLOCKS_TAKEN, detail, taken=taken)
        case KeyReusedError():
            return Refusal(KEY_REUSED, detail)
        case StateError():
            return Refusal(CONFLICT, detail)
        case UnavailableError():
            headers = {"Retry-After": str(error.retry_after)}
            return Refusal(STORE_UNAVAILABLE, detail, headers=headers)
        case _:
            raise error
