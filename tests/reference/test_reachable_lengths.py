"""Which lengths a composition reaches, and with how few blocks, by sets of bits.

A length is a bit of a whole number, so adding a block to every reachable length is one shift. The
method is the textbook subset sum programme; it shares nothing with the models of the library. The
figures were worked out for this project beforehand by a separate calculation; no source prints
them. The series behind them are checked in test_composition_tables.py.
"""

import functools
import operator
from collections.abc import Iterable, Iterator
from itertools import combinations

import pytest

from wrung.compositions import composition
from wrung.lengths import inch, mm

MAX_BLOCKS = 8


def reachable(blocks: Iterable[int], longest: int) -> int:
    """Bit n is set where some of the blocks, each used once at most, add up to n."""
    lengths, mask = 1, (1 << longest + 1) - 1
    for block in blocks:
        lengths |= lengths << block & mask
    return lengths


def reachable_by_count(blocks: Iterable[int], longest: int) -> list[int]:
    """For each count of blocks up to `MAX_BLOCKS` the lengths that exactly so many give."""
    lengths, mask = [1] + [0] * MAX_BLOCKS, (1 << longest + 1) - 1
    for block in blocks:
        for count in range(MAX_BLOCKS, 0, -1):
            lengths[count] |= lengths[count - 1] << block & mask
    return lengths


def in_steps(composition_id: str, step: int) -> list[int]:
    nominals = composition(composition_id).nominals
    assert not any(nominal % step for nominal in nominals)
    return [nominal // step for nominal in nominals]


def grid(first: int, last: int, every: int = 1) -> int:
    """The bits first, first + every, .. last."""
    return sum(1 << length for length in range(first, last + 1, every))


def distribution(blocks: list[int], targets: int) -> dict[int, int]:
    """How many of the targets need 1, 2, 3, .. blocks; 0 stands for those beyond `MAX_BLOCKS`."""
    found: dict[int, int] = {}
    for count, lengths in enumerate(reachable_by_count(blocks, targets.bit_length())):
        if served := (lengths & targets).bit_count():
            found[count] = served
        targets &= ~lengths
    return found | ({0: targets.bit_count()} if targets else {})


def least(composition_id: str, length: int, step: int) -> int | None:
    by_count = reachable_by_count(in_steps(composition_id, step), length // step)
    return next((n for n, lengths in enumerate(by_count) if lengths >> length // step & 1), None)


def test_the_method_finds_the_thousand_lengths_of_three_blocks_that_encyclopaedias_print() -> None:
    """The 30 blocks 1.000-1.009, 1.00-1.09, 1.0-1.9 give 3.000 to 3.999 mm by threes.

    Source: encyclopaedia articles on gauge blocks (text read on the web).
    """
    blocks = [*range(1000, 1010), *range(1000, 1100, 10), *range(1000, 2000, 100)]

    by_count = reachable_by_count(blocks, 3999)

    assert len(blocks) == 30
    assert by_count[3] & grid(3000, 3999) == grid(3000, 3999)


def test_the_method_agrees_with_trying_every_combination() -> None:
    """On a few blocks, two of them equal, bits and plain enumeration give the same lengths."""
    blocks = [3, 5, 5, 8, 13, 21]
    longest = sum(blocks)

    by_count = reachable_by_count(blocks, longest)

    for count in range(len(blocks) + 1):
        sums = {sum(chosen) for chosen in combinations(blocks, count)}
        assert by_count[count] == sum(1 << length for length in sums)
    assert reachable(blocks, longest) == functools.reduce(operator.or_, by_count)


TO_100_MM = ("3", "100", "0.001")
COARSE_TO_100_MM = ("3", "100", "0.005")
TO_4_IN = ("0.3", "4", "0.0001")
GRIDS = [
    # composition, step that all its lengths are multiples of, first, last and step of the targets,
    # how many of them need so many blocks
    ("metric-112-1", "0.0005", TO_100_MM, {1: 48, 2: 2989, 3: 30901, 4: 63063}),
    ("metric-88-1", "0.0005", TO_100_MM, {1: 24, 2: 1621, 3: 21709, 4: 73647}),
    ("metric-87-a", "0.001", TO_100_MM, {1: 24, 2: 1621, 3: 21709, 4: 73647}),
    ("metric-103", "0.005", COARSE_TO_100_MM, {1: 48, 2: 2597, 3: 9749, 4: 7007}),
    ("metric-47-a", "0.005", COARSE_TO_100_MM, {1: 26, 2: 566, 3: 4103, 4: 9117, 5: 5589}),
    ("metric-46-1", "0.001", TO_100_MM, {1: 17, 2: 540, 3: 7263, 4: 32319, 5: 56862}),
    ("metric-45", "0.001", TO_100_MM, {1: 16, 2: 541, 3: 7263, 4: 32319, 5: 56862}),
    ("metric-32", "0.005", COARSE_TO_100_MM, {1: 11, 2: 269, 3: 2193, 4: 5948, 5: 7578, 6: 3402}),
    ("inch-81", "0.0001", TO_4_IN, {1: 18, 2: 1159, 3: 12451, 4: 23373}),
    ("inch-36", "0.0001", TO_4_IN, {1: 6, 2: 179, 3: 2884, 4: 9263, 5: 14139, 6: 9801, 7: 729}),
    ("inch-34", "0.0001", TO_4_IN, {1: 5, 2: 148, 3: 2551, 4: 7890, 5: 12799, 6: 10692, 7: 2916}),
]


@pytest.mark.parametrize(("name", "step", "wanted", "expected"), GRIDS)
def test_fewest_blocks_over_a_whole_grid(
    name: str, step: str, wanted: tuple[str, str, str], expected: dict[int, int]
) -> None:
    """So many lengths of the grid need 1, 2, 3, .. blocks."""
    read = mm if composition(name).unit == "mm" else inch
    unit = read(step)
    targets = grid(*(read(text) // unit for text in wanted))

    assert distribution(in_steps(name, unit), targets) == expected


METRIC_TARGETS = [
    ("metric-112-1", "58.345", 4),  # NPL's FAQ builds it with 5 by the digit rule
    ("metric-112-1", "41.125", 4),
    ("metric-112-1", "29.758", 4),
    ("metric-112-1", "17.4645", 4),
    ("metric-112-1", "99.999", 4),
    ("metric-112-1", "2.005", 2),
    ("metric-112-1", "3.0005", 2),
    ("metric-88-1", "17.4645", 5),
    ("metric-47-a", "58.345", 5),
    ("metric-46-1", "58.345", 5),
    ("metric-45", "58.345", 5),
]
INCH_TARGETS = [
    ("inch-81", "4.3301", 4),
    ("inch-81", "1.9754", 4),
    ("inch-81", "0.3456", 3),
    ("inch-81", "1.2941", 4),
    ("inch-81", "2.2699", 4),
    ("inch-81", "2.5000", 2),
    ("inch-81", "0.2001", 2),
    ("inch-81", "0.1011", None),  # although texts say "any size from .100"
    ("inch-36", "2.2699", 6),
    ("inch-36", "1.2941", 5),
    ("inch-34", "2.2699", 7),
]


@pytest.mark.parametrize(("name", "length", "expected"), METRIC_TARGETS)
def test_fewest_blocks_of_a_metric_length(name: str, length: str, expected: int) -> None:
    """The fewest blocks of the composition for a single length."""
    assert least(name, mm(length), mm("0.0005")) == expected


@pytest.mark.parametrize(("name", "length", "expected"), INCH_TARGETS)
def test_fewest_blocks_of_an_inch_length(name: str, length: str, expected: int | None) -> None:
    """The fewest blocks of the composition for a single length."""
    assert least(name, inch(length), inch("0.0001")) == expected


GAP_FREE = [
    ("inch-81", "0.0001", "0.2000", "26.3295"),
    ("inch-36", "0.0001", "0.3000", "11.4495"),
    ("inch-34", "0.0001", "0.3000", "10.9995"),
    ("inch-28", "0.00005", "0.06", "0.81955"),
    ("inch-long-8", "1", "10", "74"),
    ("metric-122", "0.0005", "3", "1307.7955"),
    ("metric-112-1", "0.0005", "3", "930.7955"),
    ("metric-112-2", "0.0005", "6", "986.7955"),
    ("metric-103", "0.005", "2", "922.755"),
    ("metric-88-1", "0.0005", "3", "713.2955"),
    ("metric-87-a", "0.001", "2", "713.295"),
    ("metric-86", "0.001", "2", "613.295"),
    ("metric-83", "0.005", "2", "712.255"),
    ("metric-78", "0.0025", "2", "482.265"),
    ("metric-76", "0.005", "2", "480.255"),
    ("metric-56", "0.001", "3", "579.495"),
    ("metric-50", "0.0025", "3", "573.465"),
    ("metric-47-a", "0.005", "3", "570.955"),
    ("metric-47-b", "0.005", "3", "626.305"),
    ("metric-46-1", "0.001", "3", "623.995"),
    ("metric-46-2", "0.001", "6", "647.995"),
    ("metric-45", "0.001", "3", "523.995"),
    ("metric-32", "0.005", "3", "185.955"),
    ("metric-long-8", "25", "250", "1850"),
]


@pytest.mark.parametrize(("name", "step", "first", "last"), GAP_FREE)
def test_every_length_of_the_gap_free_range_can_be_built(
    name: str, step: str, first: str, last: str
) -> None:
    """Every multiple of the step from the one end to the other can be built from the blocks."""
    read = mm if composition(name).unit == "mm" else inch
    unit = read(step)
    assert read(first) % unit == read(last) % unit == 0
    low, high = read(first) // unit, read(last) // unit
    blocks = in_steps(name, unit)

    lengths = reachable(blocks, sum(blocks))

    assert ones(lengths >> low) >= high - low + 1


def ones(bits: int) -> int:
    """How many of the lowest bits are set before the first that is not."""
    return (~bits & bits + 1).bit_length() - 1


def gaps(name: str, step: str, first: str, last: str) -> Iterator[int]:
    """The multiples of the step, in steps, from first to last mm that cannot be built."""
    unit = mm(step)
    blocks = in_steps(name, unit)
    lengths = reachable(blocks, mm(last) // unit)
    return (n for n in range(mm(first) // unit, mm(last) // unit + 1) if not lengths >> n & 1)


def test_the_112_block_set_has_no_gap_in_whole_micrometres_from_2_mm() -> None:
    """Below 3 mm only lengths that end in half a micrometre are missing."""
    missing = list(gaps("metric-112-1", "0.0005", "2", "3"))

    assert missing
    assert all(length % 2 for length in missing)
