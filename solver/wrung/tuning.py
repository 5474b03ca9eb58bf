"""What a search may try and how long: every threshold of planning, in one Struct that is passed in.

A `wrung.deadline.Deadline` carries it wherever time and memory are asked for. None of these changes
what is true of an answer: they decide what is tried, and so how soon an answer is there and how
much is proven of it. Limits follow from sizes, which are counted, rather than from names of
requests; where a request is larger than a limit, another way is taken, or less is proven.
"""

from typing import Final

from wrung.tuning_beside import BesideTuning


class Tuning(BesideTuning, frozen=True, kw_only=True, cache_hash=True):
    """Thresholds of one search.

    A share is of the time that is left. An effort ends at the same point on every machine: it is in
    the solver's deterministic time, some seconds each, unless it is said to count something else.
    """

    # The whole request.
    overtime: float = 0.05
    """Time after the limit, as a share of it: to say why targets have no stack, or to find one."""
    share_for_cases: float = 0.3
    """Share of the time for angle blocks, where lengths are planned as well."""
    most_explaining_ms: float = 10_000
    """The most time for saying why targets have no stack, ms."""
    share_for_unmet: float = 0.5
    """Share of that time for the reasons target by target."""
    hurried_seconds: float = 1.0
    """With less time than this, a plan is put together before any engine is asked, and time for
    explanations is held back."""
    pairs_a_hurried_second: int = 2_500
    """Pairs of a block and a target that an engine needs a second for, in bad cases: with less time
    than for all pairs, a plan is put together before it is asked, too."""
    share_for_first_plan: float = 0.4
    """Share of the time for that plan; with tables it takes a few milliseconds."""
    least_seconds_a_part: float = 0.02
    """With less time than this for each part of a request, they are not searched one by one."""
    share_of_first_engine: float = 0.95
    """Share of the time for an engine that is followed by another."""
    after_cancel_ms: float = 1_000.0
    """Time for putting a plan together after a search was cancelled, ms; usually it takes a few
    milliseconds, for 100 targets and 1000 blocks 130."""
    least_share_for_engines: float = 0.75
    """Share of the time that is at least left to the engines, whatever is kept from them."""
    least_seconds_for_proofs: float = 0.05
    """With less time than this, simple proofs are not looked for."""
    share_for_proofs: float = 0.3
    """Share of the time that is left, which they need only where sequences meet."""
    share_for_changes: float = 0.5
    """Share of the time left for changing fewer blocks, where an explanation has to follow."""
    most_trade_off_points: int = 50
    """Points of a trade-off; they differ in their number of blocks."""
    share_for_a_point: float = 0.5
    """Share of the time left for one of these points, so that a hard one leaves time for others."""

    # Tables.
    most_cells: int = 20_000_000
    """Cells of one table, each of 8 bytes at most. So many are filled in 0.1 s; a thousand blocks
    of a metric set take 7 million for lengths up to 60 mm, in steps of half a micrometre."""
    most_cliques: int = 5_000
    """With more, none is made: each has a row for every kind of block in the master."""
    most_cells_kept: int = 5_000_000
    """Cells of all tables kept between requests."""
    most_tables: int = 256
    """Tables kept: small ones are little more than their keys, which are not in the cells."""
    cells_a_look: int = 100_000
    """Cells filled between looks at the clock: well under a millisecond."""
    most_steps_tried: int = 400
    """Common divisors of lengths that are tried as the step of a level."""
    pieces_a_level: int = 20
    """A level has at least one in so many of the pieces; fewer save next to nothing."""
    cost_of_a_level: float = 0.1
    """What one more level costs a walk, as a share of what a piece of the finest level does."""
    most_starts: int = 20_000
    """Ways to begin a stack: lengths of its window times choices of its wear blocks."""
    cells_for_one_grid: int = 5_000_000
    """A table of so many is filled in about 10 ms; where it would have more, grids are tried."""
    most_grids: int = 6
    """Grids that pieces are parted into; the ways to split a length multiply with each of them."""
    most_lengths_compared: int = 400
    """Lengths of which any two are compared to find steps in common; all pairs take 7 ms."""
    cells_a_split: int = 30
    """Cells that are filled in the time in which one way to split a length is looked at."""
    most_splits: int = 200_000
    """Ways to begin where lengths are split between grids; they are listed more quickly."""
    most_sums_of_grids: int = 1_000_000
    """Sums of all grids but the first that are listed to be completed by the first."""
    sums_at_once: int = 100_000
    """As many of them are completed between looks at the clock."""
    parts_of_tolerances: tuple[int, ...] = (4, 16, 64, 256)
    """Where errors come first, a plan found in a hurry takes lengths from one part in so many."""
    share_for_starts: float = 0.5
    """Share of the time left for those that cost least in that case."""
    starts_a_look: int = 1_000
    """Ways to begin that are listed between looks at the clock."""
    most_starts_spelt_out: int = 20_000
    """Starts with the finest pieces in them; more cost in lists what they save in tables."""
    partial_a_start: int = 4
    """Partial stacks that a list of such starts may take, for each of them."""

    # Walks through tables.
    most_partial: int = 300_000
    """Partial stacks that one search may make before it gives up."""
    most_partial_straight: int = 600
    """For each demand, where all candidates up to a known cost are listed at once."""
    most_partial_priced: int = 100_000
    """Partial stacks in a round of pricing; the next round searches again, so more gain little."""
    most_partial_alone: int = 400_000
    """Partial stacks where each demand is looked at by itself."""
    most_partial_alone_quick: int = 60_000
    """The same where a quick look is enough, as blocks come first."""
    beam: int = 1_000
    """Partial stacks followed where there are too many to follow all."""
    relaxed_cells: int = 5_000_000
    """Cells of the sums that a relaxed search bounds costs by."""
    walk_cells: int = 500_000
    """Entries of one array of a walk; a front that would make more is cut into slices."""
    most_partial_single: int = 64
    """Partial stacks of one demand that are followed number by number; more in arrays."""
    most_windows_single: int = 8
    """Windows that these are looked for in; the first is usually wide enough."""
    short_column: int = 12
    """Cells that are looked at one by one in less time than Numpy takes."""
    bytes_a_partial: int = 200
    """Memory of a partial stack and of the candidate that it becomes."""

    # The number served.
    few_candidates: int = 1_200
    """Candidates in all among which every goal is settled."""
    most_candidates: int = 25_000
    """Candidates in all among which it is settled how many can be served."""
    effort_among_all: float = 6.0
    """For each of these goals."""
    many_columns: int = 1_000
    """Where prices that rule a number out have so many columns, packing takes no longer."""
    most_offered_quick: int = 2_000
    """Candidates of a choice before it is worked out more closely how many can be served."""
    share_to_rule_out: float = 0.6
    """Share of the time in which prices may rule out numbers that are too many."""
    share_for_rounding: float = 0.15
    """Share of the time for rounding where other ways may come to plans that serve more."""
    share_for_most: float = 0.8
    """Share of the time for finding a plan that serves as many as may be possible."""
    most_patterns: int = 4_000
    """Patterns of scarce pieces in one packing."""
    scarce_each: int = 3
    """The finest levels are packed as long as they have, for each demand, no more pieces than this
    ..."""
    scarce_beside: int = 6
    """... and so many more in all."""
    most_partial_patterns: int = 100_000
    """Partial stacks while patterns are listed."""
    effort_for_packing: float = 1.0
    """For a packing of patterns; a tenth of it is usually enough."""
    spare_of_scarce: int = 2
    """Patterns are listed with up to this many pieces more than a demand needs."""

    # Columns, the restricted master and prices.
    pool_each: int = 40
    """Candidates of each demand that pricing begins with; with too few, it goes astray."""
    most_rounds: int = 40
    """Rounds of pricing."""
    rounds_to_rule_out: int = 10
    """The same to see whether prices rule a number served out, which they mostly do soon."""
    most_idle: int = 3
    """Rounds without progress, where searches are too large to prove that there is none."""
    new_each: int = 24
    """Columns that each demand adds to the restricted master in a round."""
    artificial_first: float = 3.0
    """A demand that is not served costs at first as much as so many of the dearest columns."""
    artificial_dearer: float = 8.0
    """Factor by which that rises while it pays."""
    artificial_dearest: float = 200.0
    """As often the cost of any plan: then it is the last resort."""
    nearly_whole: float = 0.9
    """Columns of which a solution takes so much are taken for good."""
    bytes_a_master_entry: int = 500
    """Memory of an entry of the restricted master."""
    seconds_a_master_entry: float = 6e-6
    """Time to make its row."""
    bytes_a_choice_entry: int = 300
    """Memory of an entry of a choice among columns."""
    seconds_a_presolved_entry: float = 5e-6
    """Time that the solver takes to presolve it at most; often it takes a tenth of that."""
    choice_rows_a_look: int = 250
    """Columns set up for a choice between looks at the clock."""

    # Closing the gap between bound and plan.
    parts_of_grain: int = 64
    """Bounds are raised until they are as near to the programme as one part of a grain."""
    slack_to_rule_out: int = 8
    """Times as far will do where only a number served is to be ruled out."""
    parts_a_step: int = 500
    """The first step up from a bound on errors, as one part of it in so many."""
    effort_for_a_quick_choice: float = 0.05
    """Enough for most choices; those that need more are narrowed down first."""
    share_for_a_plan: float = 0.4
    """Share of the time left for a plan, or for a choice while no plan is known."""
    effort_for_a_plan: float = 4.0
    """For finding any plan where none could be proven best."""
    effort_for_a_quick_plan: float = 1.0
    """The same where a plan that is not found quickly is left to other means."""
    share_for_a_quick_plan: float = 0.8
    """Share of the time left for that; mostly the effort ends it."""
    nearest_each: tuple[int, ...] = (70, 160, 400)
    """Candidates of one demand among which a plan is looked for, by try."""
    parts_of_stacks: int = 7
    """A plan with more than one block above its bound for each so many stacks is a hint for choices
    of better ones."""
    blocks_above_bound: tuple[int, ...] = (2, 1, 0)
    """Blocks above the bound up to which these are listed, the first that gives enough."""
    many_chosen_at_once: int = 150_000
    """With more candidates times stacks, a choice that serves the most mostly ends with nothing,
    and some stacks of a plan are chosen anew first."""
    stacks_chosen_anew: int = 15
    """Stacks of a plan that are chosen anew at first; one more after each choice that is proven
    best, one fewer after others ..."""
    fewest_chosen_anew: int = 6
    """... but no fewer than these."""
    effort_to_choose_anew: float = 0.05
    """For one such choice, at first."""
    most_chosen_in_vain: int = 25
    """Such choices, one after another, without progress; where more are to be served, that is the
    end, and for a lower cost the effort of each doubles, up to that for a plan."""
    many_within_gap: int = 1_000
    """With more candidates, choosing from all takes longer than looking for a plan among a few."""
    partial_a_candidate: int = 5
    """Partial stacks that a list of few candidates may take, for each of them."""

    # Packing patterns and completing them.
    most_packed_in_vain: int = 8
    """Choices of patterns, one after another, that are completed without any progress."""
    most_packed_alike: int = 3
    """The same where whole patterns raise no bound."""
    share_for_patterns: float = 0.5
    """Share of the time left for these."""
    effort_for_patterns: float = 1.0
    """For one choice of patterns."""

    # Errors after the fewest blocks.
    most_offered: int = 30_000
    """Columns among which one choice is made, and those with the fewest blocks that errors are
    settled among."""
    many_offered: int = 24_000
    """With more candidates times stacks, choosing takes longer than pricing."""
    offered_each_first: int = 10
    """Candidates of a demand that the first limit of errors lets in."""
    part_more_offered: int = 8
    """The next limit lets in at least one part more, in this many."""
    parts_of_error: int = 32
    """The least step to the next limit, as one part of the limit in so many."""

    # The same stacks with other blocks of the same lengths.
    exchanged_each: int = 60
    """Ways to take the blocks of a stack among which one is chosen."""
    most_exchanges: int = 1_000
    """Ways that are looked at."""
    most_exchanges_alike: int = 100
    """Of these, for the blocks of one length."""
    effort_for_exchanging: float = 0.3
    """For each of the two errors."""

    # A few stacks of a plan built anew.
    stacks_built_anew: int = 6
    """So many at once."""
    share_for_building_anew: float = 0.2
    """Share of the time left for that."""
    free_alike: int = 2
    """Pieces alike by length that are taken for it where more are free: more take longer."""
    share_for_neighbourhoods: float = 0.5
    """Share of the time left for all of them, and for exchanging blocks of a plan before; bounds on
    errors follow."""
    most_settled_first: int = 12
    """With no more stacks than this, to build a few anew takes about as long as to settle errors:
    after blocks these come first, in rounds that have a share of the time each."""
    share_before_neighbourhoods: float = 0.95
    """Share of the time for the fewest blocks, so that there is some for them."""

    # The least largest error.
    few_stacks: int = 8
    """With so few stacks, searches do not need all sides of the error."""
    part_of_first_limit: int = 8
    """The first limit is the bound plus one part of it in this many: often near the least."""
    parts_between: int = 3
    """The next limit is mostly no more than one part, in this many, of the way to the best plan
    from the last limit without one."""
    parts_of_total: int = 50
    """Bounds on totals are raised until they are as near as one part of the total in so many."""
    tries_within_limit: tuple[int, ...] = (2, 6, 18)
    """Ways to come to a plan that are tried in vain before another limit, by round."""
    share_for_a_round: float = 0.3
    """Share of the time left for each of these rounds but the last, where errors come first and
    starts spell out the fine pieces, or where errors of few stacks come after blocks."""
    share_for_better_plans: float = 0.5
    """Share of the time left after a round to build a few stacks of the plan anew; that takes no
    longer than the round did."""
    effort_for_starts: float = 0.3
    """To choose starts for all stacks."""
    effort_for_completing: float = 0.2
    """To choose among the stacks that complete them."""
    listed_each: int = 200
    """Partial stacks of a start that are followed when they are completed."""
    shortest_each: int = 30
    """Stacks of a start that has more than are listed, to begin with."""
    best_sums: int = 15
    """Sums that bound a start best whose stacks are taken in, where few starts are asked for."""
    most_rounds_completing: int = 20
    """Rounds of pricing for a choice of starts."""
    more_for_a_plan: int = 6
    """Times that more stacks are offered where the programme is content with fewer."""
    parts_of_limit: int = 64
    """The first step from the first limit, as one part of the bound in this many."""

    # Narrowing a choice down.
    narrow_each: int = 8
    """Columns of each demand in the first choice, if the bound allows so few."""
    wider: float = 2.5
    """Factor by which the number of columns grows in the next step."""
    columns_as_they_are: int = 70
    """Columns beyond one for each demand that are branched on without pricing them anew."""
    programme_each: int = 15
    """Columns of each demand that a linear programme begins with."""
    programme_more: int = 250
    """Columns that a linear programme takes in at one time."""


TUNING: Final = Tuning()
"""What is used unless something else is passed in."""
