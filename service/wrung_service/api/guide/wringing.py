"""The stacks of an example as a table, so that a page shows what to wring before any JSON."""

import re
from collections.abc import Iterator, Mapping, Sequence
from html import escape
from typing import Any, TypeAlias

from wrung.texts import SIGNS

Json: TypeAlias = Mapping[str, Any]


def stacks_table(answer: Json) -> str:
    """One row for each stack, of blocks of length or of angle blocks."""
    unit, small = answer["unit"], SIGNS[answer["small_unit"]]
    stacks = [*answer["stacks"]]
    if stacks:
        head = ("Stack", f"Length, {unit}", "Blocks, base first", f"Worst case, ± {small}")
        return _table(head, map(_of_lengths, stacks))
    head = (
        "Stack",
        "Angle",
        "Blocks; those with a minus are turned end for end",
        "Worst case, ± seconds",
    )
    return _table(head, map(_of_angles, answer["results"]))


def _of_lengths(stack: Json) -> Sequence[str]:
    blocks = " + ".join(_block(each) for each in stack["blocks"])
    role = "" if stack["role"] is None else f" ({stack['role']})"
    return (stack["target"] + role, stack["length"], blocks, stack["worst_case_error"])


def _block(block: Json) -> str:
    unit = f" {block['unit']}" if "unit" in block else ""
    return f"{block['nominal']}{unit}" + (" (wear)" if block["role"] == "wear" else "")


def _of_angles(result: Json) -> Sequence[str]:
    blocks = " + ".join(_angle(each) for each in result["added_blocks"])
    blocks += "".join(f" - {_angle(each)}" for each in result["subtracted_blocks"])
    return (result["target"], _angle(result["angle_reached"]), blocks, result["worst_case_error"])


def _angle(angle: Json) -> str:
    """Without the parts that are zero."""
    parts = re.findall(r"([\d.]+)([^\d.])", angle["dms"])
    return "".join(f"{float(value):g}{sign}" for value, sign in parts if float(value)) or "0°"


def _table(head: Sequence[str], rows: Iterator[Sequence[str]]) -> str:
    body = "".join(_row("td", cells) for cells in rows)
    return f'<table class="stacks"><thead>{_row("th", head)}</thead><tbody>{body}</tbody></table>'


def _row(tag: str, cells: Sequence[str]) -> str:
    return "<tr>" + "".join(f"<{tag}>{escape(cell)}</{tag}>" for cell in cells) + "</tr>"
