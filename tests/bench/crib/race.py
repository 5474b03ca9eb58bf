"""500 plans at one time for 20 blocks."""

import random
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import httpx

from store.rows import add_block, add_site
from wrung.lengths import to_text
from wrung_service.store.engine import Store

from .served import MM, OVERLAPS, counted, databases, ids, plan_of, served


def race() -> None:
    """500 plans at one time for the 20 blocks of 20 lengths, in three hours."""
    print("| 500 plans at once, 20 blocks | kept | refused | busy | other | overlaps | lost | s |")
    print("| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |")
    with databases() as (urls, _):
        for name, url in urls.items():
            print(f"| {name} | {' | '.join(map(str, _raced(url)))} |", flush=True)


def _raced(url: str) -> list[object]:
    store = Store(url)
    with store.writing() as connection:
        add_site(connection)
        for number in range(20):
            add_block(connection, f"b{number}", nominal=(100 + number) * MM // 10)
    store.close()
    chance = random.Random(7)
    bodies = [
        plan_of(n, to_text((100 + chance.randrange(20)) * MM // 10, "mm"), chance.randrange(3))
        for n in range(500)
    ]
    with served(url) as (address, _), httpx.Client(timeout=300, limits=_MANY) as client:
        began = time.perf_counter()
        with ThreadPoolExecutor(500) as threads:
            answers = list(
                threads.map(lambda body: client.post(f"{address}/v1/plans", json=body), bodies)
            )
        took = time.perf_counter() - began
    status = Counter(answer.status_code for answer in answers)
    kept = {answer.json()["id"] for answer in answers if answer.status_code == 201}
    lost = len(kept - set(ids(url)))
    overlaps = counted(url, OVERLAPS)
    stored = counted(url, "SELECT count(*) FROM plan")
    assert overlaps == 0 == lost
    assert stored == len(kept) == status[201]
    assert sum(status.values()) == 500
    other = 500 - status[201] - status[409] - status[503]
    return [status[201], status[409], status[503], other, overlaps, lost, f"{took:.1f}"]


_MANY = httpx.Limits(max_connections=600, max_keepalive_connections=600)
