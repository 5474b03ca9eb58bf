"""Mistakes that a type checker must find. Each ignore is needed, or the check of it fails."""

from wrung import Block, LengthTarget, alternatives, mm, solve, trade_off

block = Block(id="a", nominal=mm("1"), grade="1")
target = LengthTarget(ref="t", length=mm("1"))

Block("a", mm("1"))  # type: ignore[call-arg]
Block(id="a", nominal="1")  # type: ignore[arg-type]
Block(id="a", nominal=1, role="spare")  # type: ignore[arg-type]
LengthTarget(ref="t", length=1.5)  # type: ignore[arg-type]
solve([block], [target], "least_error")  # type: ignore[call-arg]
solve([block], [target], objective="cheapest")  # type: ignore[arg-type]
solve([block], target)  # type: ignore[arg-type]
solve([block], [target]).stacks[0].blocks[0].nominal = 1  # type: ignore[misc]
missing = solve([block], [target]).no_such_member  # type: ignore[attr-defined]
alternatives([block], [target], solve([block], [target]), exclud={"a"})  # type: ignore[call-arg]
trade_off([block], [target], solve([block], [target]), only=1)  # type: ignore[arg-type]
trade_off([block], [target])  # type: ignore[call-arg]
