"""A worker answers the requests of a chunk; safe to do twice, and to be killed in."""

import time
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Final, TypeAlias

from wrung_service.store.batches import chunks
from wrung_service.store.batches.answers import Answered, unanswered
from wrung_service.store.batches.batches import Batch, find_batch
from wrung_service.store.batches.chunks import BegunChunk, Item
from wrung_service.store.batches.engine import Leave, LeavingError, until_through
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnavailableError
from wrung_service.usecases.batches.blame import Room
from wrung_service.usecases.batches.ending import keep_answers

AnswerItem: TypeAlias = Callable[[Batch, Item], Answered | None]
"""Answers a request; None if it was told to leave. Whatever is wrong with the request is answered.

Raises UnavailableError where the request needs the database and that is away.
"""
AnswerDeadly: TypeAlias = Callable[[Batch, Item], Answered]
"""What is answered to a request that workers died of."""
DEADLY_AT: Final = 3
"""Which try of a request alone is not made: two before it, and mostly one beside others, ended
with the worker's death."""
_SAVED_EVERY_S: Final = 0.1
_SAVED_AT: Final = 64
"""Answers kept by one transaction."""


class ChunkWork:
    """Runs chunks, in as many threads as there are places.

    A first attempt costs nothing more. Later ones may be what the worker before died of: their
    requests are begun one by one, alone in the process, and each try is written down before it.
    """

    def __init__(
        self,
        store: Store,
        answer: AnswerItem,
        answer_deadly: AnswerDeadly,
        clock: Callable[[], datetime],
        keep_for: timedelta,
    ) -> None:
        self._store, self._clock, self._keep_for = store, clock, keep_for
        self._answer, self._answer_deadly = answer, answer_deadly
        self._room = Room()

    def __call__(self, chunk: BegunChunk, leave: Leave) -> None:
        """Answer what is unanswered of it.

        Raises:
            LeavingError: told to leave; the chunk is given back.
        """
        try:
            self._run(chunk, leave)
        except LeavingError:
            # Where even that is not possible, others take the chunk over after a while.
            with suppress(UnavailableError):
                self._store.write(lambda c: chunks.give_back(c, chunk))
            raise

    def _run(self, chunk: BegunChunk, leave: Leave) -> None:
        found = until_through(lambda: self._read(chunk), leave)
        if found is None:
            return
        batch, items = found
        run = self._carefully if chunk.attempts > 1 else self._quickly
        if run(batch, items, leave):
            until_through(lambda: self._store.write(lambda c: chunks.finish_chunk(c, chunk)), leave)

    def _read(self, chunk: BegunChunk) -> tuple[Batch, list[Item]] | None:
        """The batch and its unanswered requests; None if it has ended, or is gone."""
        with self._store.reading() as connection:
            batch = find_batch(connection, chunk.batch)
            if batch is None or not batch.going_on:
                return None
            return batch, list(unanswered(connection, chunk))

    def _quickly(self, batch: Batch, items: list[Item], leave: Leave) -> bool:
        """Answer them, and save some at a time; False if the batch ended meanwhile."""
        answers, saved = list[Answered](), time.monotonic()
        try:
            for item in items:
                with self._room.beside():
                    answers.append(self._answered(batch, item, leave))
                if len(answers) >= _SAVED_AT or time.monotonic() - saved > _SAVED_EVERY_S:
                    # Taken out first: what could not be saved is not saved a second time below.
                    part, answers = answers, []
                    if not self._save(batch, part, leave):
                        return False
                    saved = time.monotonic()
        except LeavingError:
            self._save(batch, answers, lambda: True)
            raise
        return self._save(batch, answers, leave)

    def _carefully(self, batch: Batch, items: list[Item], leave: Leave) -> bool:
        """Answer them alone, one by one, and remember each before it is begun."""
        for item in items:
            with self._room.alone():
                if leave():
                    raise LeavingError
                answer = self._tried(batch, item, leave)
                if not self._save(batch, [answer], leave):
                    return False
        return True

    def _tried(self, batch: Batch, item: Item, leave: Leave) -> Answered:
        tries = until_through(lambda: self._store.write(lambda c: chunks.count_try(c, item)), leave)
        if tries >= DEADLY_AT:
            return self._answer_deadly(batch, item)
        try:
            return self._answered(batch, item, leave)
        except LeavingError:
            # Where that is not possible, it only counts as a death too many.
            with suppress(UnavailableError):
                self._store.write(lambda c: chunks.uncount_try(c, item))
            raise

    def _answered(self, batch: Batch, item: Item, leave: Leave) -> Answered:
        if leave():
            raise LeavingError
        answer = until_through(lambda: self._answer(batch, item), leave)
        if answer is None:
            raise LeavingError
        return answer

    def _save(self, batch: Batch, answers: list[Answered], leave: Leave) -> bool:
        """Keep answers, however long the database is away; False if the batch has ended."""
        return until_through(
            lambda: keep_answers(self._store, batch.id, answers, self._clock(), self._keep_for),
            leave,
        )
