"""What the database holds beside what clients were told, by queries of its own."""

from bench.crib.served import HALF, OVERLAPS, TWICE, counted, doctor, ids

from .clients import Account

_OPEN = """SELECT count(*) FROM batch_item i LEFT JOIN batch_answer a USING (batch_id, position)
  WHERE a.position IS NULL"""
_MORE_ANSWERS = """SELECT count(*) FROM batch b WHERE b.state <> 'done' OR b.answered <> b.total
  OR b.total <> (SELECT count(*) FROM batch_answer a WHERE a.batch_id = b.id)"""


def faults(database: str, account: Account) -> list[str]:
    """All that does not add up; none if every plan is there once, and every answer given once."""
    stored = set(ids(database))
    found = {
        "plans lost": len(account.plans - stored),
        "plans that nobody was told of": len(stored - account.plans),
        "plans without promise, history or key": counted(database, HALF),
        "jobs with two plans": counted(database, TWICE),
        "blocks promised twice": counted(database, OVERLAPS),
        "batches more or less": counted(database, "SELECT count(*) FROM batch")
        - len(account.batches),
        "requests of batches unanswered": counted(database, _OPEN),
        "batches whose answers do not add up": counted(database, _MORE_ANSWERS),
    }
    wrong = [f"{number} {what}" for what, number in found.items() if number]
    if (said := doctor(database)) != "all right":
        wrong.append(said)
    return [*account.wrong, *wrong]
