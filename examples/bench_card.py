"""Print an answer of the service the way it is read at the bench."""

import sys
from collections.abc import Iterable
from typing import Any

SMALL_UNITS = {"uin": "µin", "um": "µm"}


def show(request: dict[str, Any], answer: dict[str, Any], second: dict[str, Any]) -> None:
    """Print the shelf, a card for each operation, what is unmet, and a summary.

    ``second`` is the answer to the same request with the borrowed blocks on the shelf.
    """
    if hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(errors="replace")
    lines = [
        *shelf_lines(request),
        *stack_lines(answer, answer["stacks"]),
        *unmet_lines(answer),
        *borrowed_lines(answer, second),
        *summary_lines(request, answer, second),
    ]
    print("\n".join(lines))


def shelf_lines(request: dict[str, Any]) -> Iterable[str]:
    """What is on the shelf, and what is missing from it."""
    yield from ("", "On the shelf")
    for gauge_set in request["sets"]:
        yield f"  {gauge_set['id']}: {gauge_set['composition']}, grade {gauge_set['grade']}"
        if missing := gauge_set.get("missing"):
            yield f"    missing: {', '.join(missing)}"
    for block in request.get("blocks", []):
        yield f"  {block['id']}: {block['nominal']} {request['unit']}, {block.get('role', 'gauge')}"


def stack_lines(answer: dict[str, Any], stacks: Iterable[dict[str, Any]]) -> Iterable[str]:
    """A card for each stack: blocks from the base up, the sum, and what it can be wrong by."""
    for stack in stacks:
        numbers = [block["nominal"] for block in stack["blocks"]] + [stack["nominal"]]
        *nominals, total = aligned(numbers)
        yield from ("", f"{name_of(stack)}   wanted {stack['length']} {answer['unit']}")
        for place, (nominal, block) in enumerate(zip(nominals, stack["blocks"], strict=True)):
            wear = ", wear block" if block["role"] == "wear" else ""
            yield f"  {'base' if place == 0 else '':5}{nominal}   {block['id']}{wear}"
        yield f"       {'-' * len(total)}"
        yield f"  sum  {total}   {joints_text(stack['joints'])}, {error_text(stack, answer)}"


def name_of(stack: dict[str, Any]) -> str:
    """The operation, and which of its stacks where it has several."""
    role = stack["role"]
    return str(stack["target"]) if role is None else f"{stack['target']}, {role.replace('_', ' ')}"


def joints_text(joints: int) -> str:
    """How many joints, in words."""
    return f"{joints} joint{'' if joints == 1 else 's'}"


def error_text(stack: dict[str, Any], answer: dict[str, Any]) -> str:
    """The stack's worst-case error, in words."""
    return f"worst-case error {stack['worst_case_error']} {SMALL_UNITS[answer['small_unit']]}"


def aligned(numbers: list[str]) -> list[str]:
    """The numbers under each other, with as many decimals each as the longest has."""
    parts = [number.partition(".") for number in numbers]
    before = max(len(whole) for whole, _, _ in parts)
    after = max(len(decimals) for _, _, decimals in parts)
    return [f"{whole:>{before}}.{decimals:0<{after}}" for whole, _, decimals in parts]


def unmet_lines(answer: dict[str, Any]) -> Iterable[str]:
    """The operations without a stack, the nearest lengths, and what to borrow."""
    for unmet in answer["unmet"]:
        yield from ("", f"{name_of(unmet)}   NO STACK: {unmet['reason'].replace('_', ' ')}")
        for side in ("nearest_below", "nearest_above"):
            if nearest := unmet[side]:
                blocks = " + ".join(nearest["blocks"])
                where = side.replace("_", " ")
                yield f"  {where}: {nearest['length']} {answer['unit']} from {blocks}"
    if shortage := answer["shortage"]:
        yield from ("", f"Cannot stand together: {'; '.join(map(name_of, shortage['conflict']))}")
        left = "; ".join(map(name_of, shortage.get("not_helped", ())))
        yield f"To build {f'all but {left}' if left else 'them all'}, borrow {borrow_text(answer)}."


def borrow_text(answer: dict[str, Any]) -> str:
    """The blocks to borrow, in words."""
    wanted = answer["shortage"]["blocks_to_add"] if answer["shortage"] else []
    blocks = [
        f"{block['nominal']} {block['unit']}{' (wear)' if block['role'] == 'wear' else ''}"
        for block in wanted
    ]
    return " and ".join(blocks) or "nothing"


def borrowed_lines(answer: dict[str, Any], second: dict[str, Any]) -> Iterable[str]:
    """Stacks that were missing, built with the borrowed blocks."""
    missing = {name_of(unmet) for unmet in answer["unmet"]}
    yield from ("", f"With {borrow_text(answer)} borrowed, all the rest served as well:")
    yield from stack_lines(second, [s for s in second["stacks"] if name_of(s) in missing])


def summary_lines(
    request: dict[str, Any], answer: dict[str, Any], second: dict[str, Any]
) -> Iterable[str]:
    """What happened, in a line each."""
    asked = len(request["targets"])
    yield from ("", "Summary")
    for label, tried in (("as it stands", answer), ("with what is borrowed", second)):
        yield (
            f"  {label}: {tried['outcome']}, {len(tried['stacks'])} of {asked} stacks,"
            f" {tried['total_blocks']} blocks, {tried['solve_ms']:.0f} ms"
        )
    yield "  The service was ended. A plan is no calibration: the blocks' certificates decide."
