"""What others have of a crib, on the wire and as a person reads it."""

from datetime import tzinfo

from wrung.blocks import Block
from wrung.handwork.step import told_apart
from wrung.texts import Phrase, figure, phrase
from wrung_service.api.problems import TakenBlock
from wrung_service.usecases.crib_shelf import Taken


def write_taken(taken: Taken) -> TakenBlock:
    """A block that others have."""
    return TakenBlock(
        block=taken.block,
        plan=taken.plan,
        job=taken.job,
        operation=taken.operation,
        starts_at=taken.starts_at,
        ends_at=taken.ends_at if taken.known_end else None,
    )


def taken_in_words(taken: Taken, block: Block, zone: tzinfo) -> Phrase:
    """The block, who has it and until when, by the clocks of its site."""
    end = taken.ends_at.astimezone(zone) if taken.known_end else None
    until = figure("until", "" if end is None else end.isoformat(sep=" ", timespec="minutes"))
    time = figure("time", phrase("unmet.taken_open" if end is None else "unmet.taken_until", until))
    named = figure("block", (told_apart(block),))
    if taken.job is None:
        return phrase("unmet.taken_block", named, time)
    return phrase("unmet.taken_by", named, figure("who", taken.job), time)
