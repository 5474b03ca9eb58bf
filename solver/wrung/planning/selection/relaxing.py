"""Prices of the rows of a packing, with cuts added as rows until they no longer help."""

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import Ints
from wrung.planning.selection.cuts import broken_triples, cut_rows
from wrung.planning.selection.programme import Programme
from wrung.planning.selection.set_packing import (
    LagrangianBound,
    Rows,
    SetPacking,
    join_rows,
    lagrangian_bound,
)


class Relaxed(Struct, frozen=True, kw_only=True):
    """Rows, those of the packing first, their prices, and what these prove.

    The first ``shared`` rows are those of every packing over these columns.
    """

    rows: Rows
    prices: Ints
    proof: LagrangianBound
    shared: int

    def reason(self, most: int) -> "Reason":
        """The same of choices that cost no more than this, in the scale of the packing."""
        proof = self.proof
        return Reason(
            rows=self.rows,
            prices=self.prices,
            above=proof.priced - proof.least,
            excess=most - proof.bound,
            shared=self.shared,
        )


class Reason(Struct, frozen=True, kw_only=True):
    """Why a choice of little cost contains only few columns.

    What its columns cost ``above`` the least of their demands, and what it leaves unused of the
    rows, at their prices, adds up to no more than ``excess``. The first ``shared`` rows are those
    of every packing over these columns.
    """

    rows: Rows
    prices: Ints
    above: Ints
    excess: int
    shared: int

    def where(self, keep: Ints) -> "Reason":
        """The same of some of the columns."""
        rows, above = self.rows.where(keep, len(self.above)), self.above[keep]
        return Reason(
            rows=rows, prices=self.prices, above=above, excess=self.excess, shared=self.shared
        )

    def columns(self) -> Ints:
        """The columns that a choice may contain."""
        return np.flatnonzero(self.above <= self.excess)


def relax(packing: SetPacking, most: int, deadline: Deadline) -> tuple[Relaxed, ...]:
    """The best proof of all rounds first, then a few others, as each leaves out other columns.

    The rounds end when one proves that no choice costs ``most`` or less.
    """
    free = np.zeros(len(packing.rows), np.int64)
    found = [_relaxed(packing, packing.rows, free)]
    # Of a demand there is one, too.
    whole = join_rows(packing.rows, _demand_rows(packing))
    programme = Programme(packing, deadline.tuning) if packing.quota.possible else None
    while (
        programme is not None
        and len(found) <= deadline.tuning.most_cut_rounds
        and not deadline.passed
    ):
        solved = programme.solve(deadline)
        if solved is None:
            break
        found.append(_relaxed(packing, programme.rows, solved.prices))
        triples = broken_triples(whole, solved.parts, deadline.tuning)
        if not len(triples) or found[-1].proof.bound > most * packing.scale:
            break
        programme.add(cut_rows(whole, triples))
    best = max(found, key=lambda relaxed: relaxed.proof.bound)
    # The first has no prices, the second no cuts.
    others = [relaxed for relaxed in found[1 :: len(found) // 2 + 1] if relaxed is not best]
    return (best, *others)


def _relaxed(packing: SetPacking, rows: Rows, prices: Ints) -> Relaxed:
    proof = lagrangian_bound(packing, rows, prices)
    return Relaxed(rows=rows, prices=prices, proof=proof, shared=packing.shared)


def _demand_rows(packing: SetPacking) -> Rows:
    order = np.argsort(packing.demands, kind="stable")
    return Rows(
        row=packing.demands[order],
        column=order,
        times=np.ones(len(packing), np.int64),
        there=np.ones(packing.offered, np.int64),
    )
