"""The step that both objectives are built from: settle the least sum of costs."""

from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.quota import ByClass
from wrung.planning.candidates.stock import NEVER, Ints, join_rows
from wrung.planning.candidates.walk import Candidates, distinct, first_of_each, no_candidates
from wrung.planning.objectives.by_patterns import Ask, ByPatterns
from wrung.planning.objectives.closing import Closing, Settled, impossible
from wrung.planning.objectives.fix_and_optimise import serving_more
from wrung.planning.objectives.nearest import nearest
from wrung.planning.pricing.diving import dive
from wrung.planning.pricing.prices import Priced, dearest, price
from wrung.planning.pricing.question import Question
from wrung.planning.selection.choice import Choice


def settle_sum(  # noqa: PLR0913 - one question, and how far to go
    question: Question,
    pool: Candidates,
    deadline: Deadline,
    known: Candidates | None = None,
    ask: Ask | None = None,
    *,
    until: Deadline | None = None,
) -> Settled:
    """Least sum of costs; ``known`` is a plan, perhaps far from the best.

    Prices may end before the rest, at ``until``.

    With ``ask``, which asks the same for another workbench, patterns are packed as well, for errors
    only where starts do not spell fine pieces out; which of ties has the fewest blocks does not
    count then.
    """
    slack, enough = question.slack, dearest(question)
    priced = price(question, pool, enough=enough, slack=slack, deadline=until or deadline)
    return close(question, priced, deadline, known, ask)


def meet(question: Question, priced: Priced) -> bool:
    """Whether bound and plan are so near that pricing would not go on."""
    plan = priced.plan
    costs = None if plan is None else int(question.goal.costs(plan).sum())
    return costs is not None and costs <= priced.bound + question.slack


def close(
    question: Question,
    priced: Priced,
    deadline: Deadline,
    known: Candidates | None = None,
    ask: Ask | None = None,
) -> Settled:
    """As `settle_sum`, with prices; the caps that these were found for are no tighter."""
    most = dearest(question)
    if priced.bound > most:
        return replace(impossible(), priced=priced)
    begun = None if known is None else unproven(question, known)
    # Of errors, starts that spell the fine pieces out say as much as patterns of these.
    ask = None if question.bench.spelt_out and question.goal.errors else ask
    quick = question if ask is None else replace(question, quick=True)
    found = Closing(quick, priced, most, deadline, begun).run()
    if ask is not None and found.end == "open":
        part = deadline.share(deadline.tuning.share_for_patterns)
        found = ByPatterns(ask, question.bench, priced, most, found, part).run()
        if found.end == "open":
            found = Closing(question, priced, most, deadline, found, tried=1).run()
        found = replace(found, priced=priced)
    return found


def ruled_out(question: Question, pool: Candidates, deadline: Deadline) -> Priced | None:
    """What proves that no plan serves as many; None where prices do not."""
    most, rounds = dearest(question), deadline.tuning.rounds_to_rule_out
    slack = deadline.tuning.slack_to_rule_out * question.slack
    priced = price(question, pool, enough=most, slack=slack, deadline=deadline, rounds=rounds)
    return priced if priced.bound > most else None


def next_lower(question: Question, priced: Priced) -> ByClass:
    """The next counts that prices leave open, where they rule out those asked for.

    Only the last class with any served gets fewer.
    """
    served, most = question.served, dearest(question)
    paid = served.least_sum(priced.least) - priced.bound
    last = max(number for number, count in enumerate(served.counts) if count)
    for count in range(served.counts[last] - 1, -1, -1):
        fewer = served.with_count(last, count)
        if not count or priced.bound >= NEVER or fewer.bound(priced.least, paid) <= most:
            return fewer.counts
    return served.counts


def unproven(question: Question, plan: Candidates) -> Settled:
    """A plan of which nothing is proven; of no stacks, that none was seen."""
    value = int(question.goal.costs(plan).sum()) if len(plan) else NEVER
    return Settled(end="open", value=value, bound=0, chosen=plan)


def any_plan(question: Question, pool: Candidates, deadline: Deadline) -> Settled:
    """A plan of the candidates that prices lead to, with little effort; it may serve fewer."""
    most = dearest(question)
    priced = price(question, pool, enough=most, slack=most, deadline=deadline)
    # Of many stacks, rounding takes long, and others come to plans that serve more.
    until = deadline.share(deadline.tuning.share_for_rounding)
    plan = None if priced.bound > most else dive(question, priced, until, some=True)
    return replace(unproven(question, plan or no_candidates()), priced=priced)


def completed(question: Question, starts: Ints, deadline: Deadline) -> Settled:
    """The same for stacks that begin like these."""
    begun = question.beginning(starts)
    pool = first_of_each(begun.search().cheapest(0).candidates, deadline.tuning.pool_each)
    return any_plan(begun, pool, deadline)


def most_of_nearest(question: Question, pool: Candidates, deadline: Deadline) -> Candidates | None:
    """A plan that serves as many as possible of the candidates nearest to the prices.

    None if no plan of any candidates serves as many as asked for; empty where the effort ends
    before one is found.
    """
    most, slack = dearest(question), deadline.tuning.slack_to_rule_out * question.slack
    priced = price(question, pool, enough=most, slack=slack, deadline=deadline)
    if priced.bound > most:
        return None
    if priced.plan is not None:
        return priced.plan
    near, effort = _near(question, priced), deadline.tuning.effort_for_most
    return _most_of(question, near, no_candidates(), deadline, effort)


def more_near(
    question: Question, priced: Priced, known: Candidates, deadline: Deadline
) -> Candidates:
    """The plan known, or one that serves more with candidates nearest to these prices.

    Some of its stacks are chosen anew, and all at once: first what is likelier to succeed.
    """
    if priced.plan is not None or deadline.passed:
        return known if priced.plan is None else priced.plan
    tuning, few, best = deadline.tuning, _near(question, priced), known
    counts, wanted = question.bench.counts, question.served

    def some(best: Candidates, until: Deadline) -> Candidates:
        return serving_more(question, priced, few, best, until)

    def every(best: Candidates, until: Deadline) -> Candidates:
        found = _most_of(question, few, best, until, tuning.effort_for_a_plan)
        return max(best, found, key=lambda plan: counts(plan.demands))

    many = len(few) * wanted.total > tuning.many_chosen_at_once
    for choose in (some, every) if many else (every, some):
        if counts(best.demands) >= wanted.counts:
            break
        best = choose(best, deadline.share(tuning.share_for_a_plan))
    return best


def _near(question: Question, priced: Priced) -> Candidates:
    each, search = question.bench.deadline.tuning.nearest_each[0], question.search(priced.prices)
    return nearest(question, search, priced, priced.bound, each)


def _most_of(
    question: Question, near: Candidates, known: Candidates, deadline: Deadline, effort: float
) -> Candidates:
    """As many as can be of these and of the stacks of a known plan, near that plan at first."""
    few = distinct(join_rows([known, near]))
    choice = Choice(question.bench, few, served=None)
    if len(known):
        choice.begin_with(len(known))
    return few.where(choice.most_served(question.served, deadline, effort=effort).rows)
