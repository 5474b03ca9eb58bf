"""Time the page at ``/`` in a real browser: from the last key of a length to its stack on screen.

    python -m tests.bench.page [--count N]

Needs Debian's ``chromium``. Each length is typed key by key, as fast as the page answers; a time
runs from the last key to the frame after the one in which its stack was painted. Beside it, the
bytes of a first visit, and how many of its requests a browser learns of only from another than
the page itself.
"""

import argparse
import os
import random
import shutil
from collections.abc import Mapping
from statistics import median, quantiles
from typing import Final

from playwright.sync_api import Browser, Page, sync_playwright

from .server import running

SHELVES: Final[Mapping[str, str]] = {
    "81 inch blocks": "unit=in&set=A~inch-81~AS-1",
    "the same with wear blocks at both ends": "unit=in&set=A~inch-81~AS-1~0.05~0.05&wear=both",
    "two cases, 81 and 36 inch blocks": "unit=in&set=A~inch-81~AS-1&set=B~inch-36~0",
    "122 metric blocks": "unit=mm&set=M~metric-122~1",
}
WAIT: Final = """([sum]) => new Promise((done) => {
  const want = document.getElementById("want"), answer = document.getElementById("answer");
  let began = 0;
  setTimeout(() => done(null), 10000);
  want.addEventListener("keydown", (event) => { began = event.timeStamp; });
  new MutationObserver((_, observer) => {
    if (answer.querySelector(".block-title dd")?.textContent.split(" ")[0] !== sum) return;
    observer.disconnect();
    requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now() - began)));
  }).observe(answer, { childList: true });
})"""
FIRST_VISIT: Final = """() => {
  const all = [...performance.getEntriesByType("navigation"),
    ...performance.getEntriesByType("resource")];
  const later = all.filter((each) => ["css", "fetch"].includes(each.initiatorType));
  return [all.reduce((sum, each) => sum + each.transferSize, 0), all.length, later.length];
}"""


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.page", description=__doc__)
    parser.add_argument("--count", type=int, default=40)
    count = parser.parse_args().count
    with running() as server, sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        print(f"load {os.getloadavg()[0]:.1f}, {os.cpu_count()} CPUs")
        print(
            "| shelf | median, ms | 9 of 10 within, ms | worst, ms "
            "| first visit, kB | requests | learnt of later |"
        )
        print("| --- | ---: | ---: | ---: | ---: | ---: | ---: |")
        for name, shelf in SHELVES.items():
            visited = _first_visit(browser, f"{server.address}/?{shelf}")
            decimals = 4 if "unit=in" in shelf else 3
            ms = _typed(browser, f"{server.address}/?{shelf}", count, decimals)
            print(
                f"| {name} | {median(ms):.0f} | {quantiles(ms, n=10)[8]:.0f} | {max(ms):.0f} "
                f"| {visited[0] / 1000:.0f} | {visited[1]} | {visited[2]} |"
            )
        print(f"load {os.getloadavg()[0]:.1f}")
        browser.close()


def _first_visit(browser: Browser, address: str) -> tuple[int, int, int]:
    page = browser.new_context().new_page()
    page.goto(f"{address}&want=2.3145")
    page.wait_for_load_state("networkidle")
    bytes_, requests, later = page.evaluate(FIRST_VISIT)
    page.context.close()
    return bytes_, requests, later


def _typed(browser: Browser, address: str, count: int, decimals: int) -> list[float]:
    """The first ones, which warm up both, do not count."""
    page = browser.new_context().new_page()
    page.goto(address)
    lengths = random.Random(16)
    warm = 5
    steps = [lengths.randint(10001, 39999) for _ in range(count + warm)]
    return [_one(page, f"{each / 10**decimals:.{decimals}f}") for each in steps][warm:]


def _one(page: Page, text: str) -> float:
    first, last = text[:-1], text[-1]
    page.locator("#want").fill("")
    for key in first:
        page.keyboard.press(key)
    page.wait_for_timeout(150)
    # What the page says of a sum has no noughts at its end.
    page.evaluate(f"() => {{ window.timed = ({WAIT})(['{float(text):g}']); }}")
    page.keyboard.press(last)
    elapsed: float | None = page.evaluate("() => window.timed")
    if elapsed is None:
        raise RuntimeError(f"no stack for {text}")
    return elapsed


if __name__ == "__main__":
    main()
