"""What of a request stands in the way of a stack, held to a search through every set of blocks."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st
from msgspec import Struct
from msgspec.structs import replace

from wrung import Answer, Block, LengthTarget, WearBlocks, mm, solve, verify
from wrung.answers import Remedy, Restriction
from wrung.metrology import RequiredRatio
from wrung.testing import make_blocks

WEAR = {"none": 0, "one": 1, "both": 2}


class Restricted(Struct, frozen=True, kw_only=True):
    """A request for one stack, and all that it forbids."""

    blocks: tuple[Block, ...]
    target: LengthTarget
    exclude: tuple[str, ...] = ()
    only: tuple[str, ...] | None = None
    overdue: tuple[str, ...] = ()

    def answer(self, *others: LengthTarget) -> Answer:
        """The checked answer, with time to spare."""
        targets = (self.target, *others)
        found = solve(
            self.blocks,
            targets,
            exclude=self.exclude,
            only=self.only,
            overdue=self.overdue,
            time_limit_ms=60_000,
        )
        breaches = verify(
            self.blocks,
            targets,
            found,
            exclude=self.exclude,
            only=self.only,
            overdue=self.overdue,
        )
        assert not breaches
        return found

    def without(self, lifted: Sequence[Restriction]) -> "Restricted":
        """The request with these restrictions given up."""
        target = self.target
        if "max_blocks" in lifted:
            target = replace(target, max_blocks=None)
        if "wear_blocks" in lifted:
            target = replace(target, wear_blocks="none")
        return replace(
            self,
            target=target,
            exclude=() if "exclude" in lifted else self.exclude,
            only=None if "only" in lifted else self.only,
            overdue=() if "overdue" in lifted else self.overdue,
        )

    def buildable(self) -> bool:
        """Whether any set of the blocks that may be used is what the target asks for."""
        only = self.only
        usable = [
            block
            for block in self.blocks
            if block.id not in {*self.exclude, *self.overdue} and (only is None or block.id in only)
        ]
        most = self.target.max_blocks or len(usable)
        return any(
            sum(block.nominal for block in chosen) == self.target.length
            and sum(block.role == "wear" for block in chosen) == WEAR[self.target.wear_blocks]
            for count in range(1, min(most, len(usable)) + 1)
            for chosen in combinations(usable, count)
        )

    def restrictions(self) -> Iterator[Restriction]:
        """All of them."""
        if self.overdue:
            yield "overdue"
        if self.exclude:
            yield "exclude"
        if self.only is not None:
            yield "only"
        if self.target.max_blocks is not None:
            yield "max_blocks"
        if self.target.wear_blocks != "none":
            yield "wear_blocks"

    def expected(self) -> set[frozenset[Restriction]]:
        """Every smallest choice of restrictions without which the stack can be built."""
        possible = tuple(self.restrictions())
        for size in range(1, len(possible) + 1):
            found = {
                frozenset(lifted)
                for lifted in combinations(possible, size)
                if self.without(lifted).buildable()
            }
            if found:
                return found
        return set()


@st.composite
def restricted(draw: st.DrawFn) -> Restricted:
    """Some five blocks, most of them forbidden by one thing or by two, and a length near them."""
    lengths = draw(st.lists(st.integers(min_value=1, max_value=6), min_size=1, max_size=6))
    blocks = tuple(
        replace(block, role=draw(st.sampled_from(["gauge", "gauge", "wear"])))
        for block in make_blocks(" ".join(map(str, lengths)))
    )
    names = st.lists(st.sampled_from([block.id for block in blocks]), unique=True, max_size=4)
    target = LengthTarget(
        ref="t",
        length=draw(st.integers(min_value=1, max_value=14)) * mm("1"),
        max_blocks=draw(st.none() | st.integers(min_value=1, max_value=3)),
        wear_blocks=draw(st.sampled_from(_WEAR)),
    )
    return Restricted(
        blocks=blocks,
        target=target,
        exclude=tuple(draw(names)),
        only=draw(st.none() | names.map(tuple)),
        overdue=tuple(draw(names)),
    )


_WEAR: tuple[WearBlocks, ...] = ("none", "one", "both")


@given(restricted())
def test_every_smallest_choice_of_restrictions_is_named_and_no_other(request: Restricted) -> None:
    """Each alone or together, as an exhaustive search of the request without them finds."""
    answer = request.answer()

    assert bool(answer.unmet) is not request.buildable()
    for unmet in answer.unmet:
        assert unmet.reason == "cannot_be_built"
        assert {frozenset(each.lifted) for each in unmet.remedies} == request.expected()
        assert answer.shortage is not None
        cause = "restricted" if unmet.remedies else "blocks_missing"
        assert answer.shortage.cause == cause


def only_remedy(answer: Answer, place: int = 0) -> Remedy:
    """The remedy of an unmet target that has just one."""
    (remedy,) = answer.unmet[place].remedies
    return remedy


def test_a_block_that_is_both_excluded_and_overdue_takes_both() -> None:
    """Neither alone would bring it back."""
    request = Restricted(
        blocks=make_blocks("1 2 3"),
        target=LengthTarget(ref="t", length=mm("6")),
        exclude=("b0",),
        overdue=("b0",),
    )

    assert only_remedy(request.answer()).lifted == ("overdue", "exclude")


def test_no_block_left_out_is_named_where_one_like_it_may_be_used() -> None:
    """Of two blocks of 5 mm the one that may be used stands in the stack that shows the remedy."""
    blocks = make_blocks("5 5 1.001")
    request = Restricted(
        blocks=blocks,
        target=LengthTarget(ref="t", length=mm("6.001")),
        overdue=(blocks[0].id, blocks[2].id),
    )

    assert set(only_remedy(request.answer()).blocks) == {blocks[1].id, blocks[2].id}


def test_what_would_help_beside_the_other_stacks_is_named() -> None:
    """The only 1.001 that may be used is in the first stack; the other one is overdue."""
    blocks = make_blocks("1.001 1.001 2 3")
    request = Restricted(
        blocks=blocks,
        target=LengthTarget(ref="t", length=mm("3.001")),
        overdue=(blocks[1].id,),
    )

    answer = request.answer(LengthTarget(ref="other", length=mm("4.001")))

    assert answer.unmet[0].reason == "blocks_in_use"
    assert only_remedy(answer).lifted == ("overdue",)
    assert blocks[1].id in only_remedy(answer).blocks


def test_a_ratio_that_no_stack_keeps_is_named() -> None:
    """The length can be built, only not so well."""
    answer = solve(
        make_blocks("1 2"),
        (LengthTarget(ref="t", length=mm("3")),),
        required_ratios=(RequiredRatio(target="t", width=1, ratio=Fraction(10)),),
        time_limit_ms=60_000,
    )

    assert only_remedy(answer).lifted == ("required_ratio",)
