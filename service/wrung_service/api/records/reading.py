"""Reads a record back: its request as if it were sent now, and its stacks from its own blocks."""

from datetime import datetime

import msgspec

from wrung.answers import Stack
from wrung.targets import Requirement
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.records.answer import RECORD_TIMES
from wrung_service.api.records.shape import RecordedStack, StackRecord
from wrung_service.api.stacks.reading import StackReading, published_limits, read_stack_request
from wrung_service.api.stacks.request import StackRequest
from wrung_service.settings import Limits
from wrung_service.usecases.rebuilt import requirements_of, stack_of
from wrung_service.usecases.stack_query import StackQuery


class NotARecordError(Exception):
    """It names blocks or stacks that its request does not."""


class RecordReader:
    """Reads requests of records; made once, as its decoder takes a moment."""

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        # Defaults filled in, a request is larger than it was sent.
        most = RECORD_TIMES * limits.max_body_bytes
        self._decoder = BodyDecoder(StackRequest, published_limits(limits), most)

    def __call__(self, record: StackRecord, **asked: object) -> StackReading:
        """The request of a record on the day of the record; ``asked`` replaces members of it.

        Raises:
            Refusal: with everything that is wrong with the request.
        """
        return self.request(msgspec.json.encode({**record.request, **asked}), record.made_at)

    def request(self, body: bytes, now: datetime) -> StackReading:
        """Any request without a crib.

        Raises:
            Refusal: with everything that is wrong with it.
        """
        return read_stack_request(self._decoder.decode(body), self._limits, now)


def recorded_stacks(record: StackRecord, query: StackQuery) -> list[Stack]:
    """The stacks as made from the request's own blocks.

    Raises:
        NotARecordError: the request has no such stacks or no such blocks.
    """
    wanted = requirements_of(query)
    shelf = {block.id: block for block in query.blocks}
    stacks: list[Stack] = []
    for each in record.stacks:
        requirement = next((w for w in wanted if _is_for(each, w)), None)
        known = bool(each.blocks) and {block.id for block in each.blocks} <= shelf.keys()
        if requirement is None or not known:
            raise NotARecordError(f"has no such stack or no such blocks: {each.target!r}")
        blocks = [shelf[block.id] for block in each.blocks]
        stacks.append(stack_of(requirement, blocks, query.joint_allowance))
    return stacks


def _is_for(stack: RecordedStack, wanted: Requirement) -> bool:
    return (stack.target, stack.role) == (wanted.target, wanted.role)
