"""What people write who use no types: it is checked loosely, and it is run."""

from wrung import GaugeSet, InputError, LengthTarget, inch, solve, to_text


def plan(lengths, missing=()):
    shelf = GaugeSet(
        id="crib", composition="inch-81", grade="0", missing=tuple(inch(each) for each in missing)
    )
    targets = [LengthTarget(ref=f"op{k}", length=inch(each)) for k, each in enumerate(lengths)]
    return solve(shelf.blocks(), targets)


def report(answer):
    return [f"{stack.target}: {to_text(stack.nominal, 'in')}" for stack in answer.stacks]


def refused(length):
    try:
        LengthTarget(ref="op20", length=length)
    except InputError as error:
        return error.faults[0].pointer
    return None


def main():
    return report(plan(["1.3754", "0.8"], missing=["0.1004"])), refused(1.3754)
