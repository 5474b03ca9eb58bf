"""The candidates among which a plan is looked for: those with the least reduced costs."""

from collections.abc import Sequence

import numpy as np

from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.search import Search
from wrung.planning.candidates.stock import join_rows
from wrung.planning.candidates.walk import (
    Candidates,
    distinct,
    first_of_each,
    no_candidates,
)
from wrung.planning.pricing.prices import Priced, room


def nearest(
    search: Search, priced: Priced, served: Quota, limits: Sequence[int], each: int
) -> Candidates:
    """Of each demand the candidates with the least reduced costs: seen, and not yet seen.

    Args:
        search: by the prices.
        priced: the result of pricing.
        served: demands that the plan is to serve.
        limits: of plans, the largest first; of the first that few enough candidates keep to, these
            are taken in where not many have been seen.
        each: the most of those seen, and of those not yet seen, for each demand.
    """
    seen = nearest_of(search, priced, priced.pool, each)
    if 2 * len(seen) >= each * served.total:
        return seen
    new = nearest_of(search, priced, _listed(search, priced, served, limits, each), each)
    return distinct(join_rows([seen, new]))


def _listed(
    search: Search, priced: Priced, served: Quota, limits: Sequence[int], each: int
) -> Candidates:
    for limit in limits:
        found = search.within(room(priced, served, limit))
        if found is not None:
            return found
    some = search.within(room(priced, served, limits[0]), beam=each * served.total)
    return no_candidates() if some is None else some


def nearest_of(search: Search, priced: Priced, found: Candidates, each: int) -> Candidates:
    """Of these, the first so many of each demand by their reduced costs."""
    beyond = search.costs(found) - priced.least[found.demands]
    return first_of_each(found.where(np.argsort(beyond, kind="stable")), each)
