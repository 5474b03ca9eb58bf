"""Prices of the rows of an offer, with cuts among the rows until they help no more."""

from typing import Final

import numpy as np
from msgspec import Struct

from wrung.planning.candidates.stock import Ints
from wrung.planning.deadline import Deadline
from wrung.planning.selection.cuts import broken_triples, cut_rows
from wrung.planning.selection.offer import Offer, Proof, Rows, join_rows, prove
from wrung.planning.selection.programme import Programme

_MOST_ROUNDS: Final = 12


class Relaxed(Struct, frozen=True, kw_only=True):
    """Rows, those of the offer first, their prices, and what these prove.

    The first ``shared`` rows are those of every offer over these columns.
    """

    rows: Rows
    prices: Ints
    proof: Proof
    shared: int

    def reason(self, most: int) -> "Reason":
        """The same of choices that cost no more than this, in the scale of the offer."""
        proof = self.proof
        return Reason(
            rows=self.rows,
            prices=self.prices,
            above=proof.priced - proof.least,
            excess=most - proof.bound,
            shared=self.shared,
        )


class Reason(Struct, frozen=True, kw_only=True):
    """Why a choice of little cost holds few columns only.

    What its columns cost ``above`` the least of their demands, and what it leaves unused of the
    rows, at their prices, adds up to no more than ``excess``. The first ``shared`` rows are those
    of every offer over these columns.
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
        """Those that a choice may hold."""
        return np.flatnonzero(self.above <= self.excess)


def relax(offer: Offer, most: int, deadline: Deadline) -> Relaxed:
    """The best proof found, or the first one that no choice costs ``most`` or less."""
    free = np.zeros(len(offer.rows), np.int64)
    proof = prove(offer, offer.rows, free)
    best = Relaxed(rows=offer.rows, prices=free, proof=proof, shared=offer.shared)
    if proof.bound > most * offer.scale:
        return best
    # Of a demand there is one, too.
    whole = join_rows(offer.rows, _demand_rows(offer))
    programme = Programme(offer)
    for _ in range(_MOST_ROUNDS):
        solved = programme.solve()
        if solved is None or deadline.passed:
            break
        rows = programme.rows
        proof = prove(offer, rows, solved.prices)
        if proof.bound > best.proof.bound:
            best = Relaxed(rows=rows, prices=solved.prices, proof=proof, shared=offer.shared)
        if proof.bound > most * offer.scale:
            break
        triples = broken_triples(whole, solved.parts)
        if not len(triples):
            break
        programme.add(cut_rows(whole, triples))
    return best


def _demand_rows(offer: Offer) -> Rows:
    order = np.argsort(offer.demands, kind="stable")
    return Rows(
        row=offer.demands[order],
        column=order,
        times=np.ones(len(offer), np.int64),
        there=np.ones(offer.offered, np.int64),
    )
