"""The candidates among which a plan is looked for: those with the least reduced costs."""

from wrung.planning.candidates.search import Search
from wrung.planning.candidates.stock import join_rows
from wrung.planning.candidates.walk import (
    Candidates,
    distinct,
    least_of_each,
    no_candidates,
)
from wrung.planning.pricing.prices import Priced, room
from wrung.planning.pricing.question import Question


def nearest(
    question: Question, search: Search, priced: Priced, bound: int, each: int
) -> Candidates:
    """Of each demand the candidates with the least reduced costs: seen, and not yet seen.

    Args:
        question: what the plan is for.
        search: by the prices.
        priced: the result of pricing.
        bound: no plan costs less. Where not many have been seen, those are taken in that a plan a
            little above it may hold.
        each: the most of those seen, and of those not yet seen, for each demand.
    """
    seen = nearest_of(search, priced, priced.pool, each)
    if 2 * len(seen) >= each * question.served.total:
        return seen
    new = nearest_of(search, priced, _listed(question, search, priced, bound, each), each)
    return distinct(join_rows([seen, new]))


def _listed(
    question: Question, search: Search, priced: Priced, bound: int, each: int
) -> Candidates:
    """Within the highest limit that few enough keep to, else some within the highest of all."""
    served, above = question.served, question.bench.deadline.tuning.blocks_above_bound
    rooms = [room(priced, served, bound + beyond * question.grain) for beyond in above]
    for most in rooms:
        if (found := search.within(most)) is not None:
            return found
    some = search.within(rooms[0], beam=each * served.total)
    return no_candidates() if some is None else some


def nearest_of(search: Search, priced: Priced, found: Candidates, each: int) -> Candidates:
    """Of these, the first so many of each demand by their reduced costs."""
    return least_of_each(found, search.costs(found) - priced.least[found.demands], each)
