"""What a search may try and how long: every threshold of planning, in one Struct that is passed in.

A `wrung.deadline.Deadline` carries it wherever time and memory are asked for. None of these changes
what is true of an answer: they decide what is tried, and so how soon an answer is there and how
much is proven of it. Limits follow from sizes, which are counted, rather than from names of
requests; where a request is larger than a limit, another way is taken, or less is proven.
"""

from typing import Final

from msgspec import Struct


class Tuning(Struct, frozen=True, kw_only=True):
    """Thresholds of one search.

    A share is of the time that is left. An effort ends at the same point on every machine: it is in
    the solver's deterministic time, some seconds each, unless it is said to count something else.
    """

    # The whole request.
    overtime: float = 0.05
    """Time for saying why targets have no stack, as a share of the limit, after it."""
    share_for_cases: float = 0.3
    """Share of the time for angle blocks, where lengths are planned as well."""
    most_explaining_ms: float = 10_000
    """The most time for saying why targets have no stack, ms."""
    share_for_unmet: float = 0.5
    """Share of that time for the reasons target by target."""
    hurried_seconds: float = 1.0
    """With less time than this, a plan is put together before any engine is asked, and time for
    explanations is held back."""
    pairs_a_hurried_second: int = 10_000
    """Pairs of a block and a target that an engine needs a second for, in bad cases: with less time
    than for all pairs, a plan is put together before it is asked, too."""
    share_for_first_plan: float = 0.4
    """Share of the time for that plan; usually it takes a few milliseconds."""
    share_of_first_engine: float = 0.95
    """Share of the time for an engine that is followed by another."""
    after_cancel_ms: float = 100.0
    """Time for putting a plan together after a search was cancelled, ms."""
    least_share_for_engines: float = 0.75
    """Share of the time that is at least left to the engines, whatever is proven before."""
    most_held_back_ms: float = 500
    """The most time held back for what follows the engines, ms."""
    least_seconds_for_proofs: float = 0.05
    """With less time than this, simple proofs are not looked for."""
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
    cells_a_split: int = 30
    """Cells that are filled in the time in which one way to split a length is looked at."""
    most_splits: int = 200_000
    """Ways to begin where lengths are split between grids; they are listed more quickly."""
    most_sums_of_grids: int = 1_000_000
    """Sums of all grids but the first that are listed to be completed by the first."""
    sums_at_once: int = 100_000
    """As many of them are completed between looks at the clock."""
    parts_of_tolerances: tuple[int, ...] = (4, 16, 64, 256)
    """Where they have too many lengths, one part in so many, until few enough are left."""
    starts_a_look: int = 1_000
    """Ways to begin that are listed between looks at the clock."""
    most_starts_spelt_out: int = 20_000
    """Starts with the finest pieces in them; more cost in lists what they save in tables."""

    # Walks through tables.
    most_partial: int = 300_000
    """Partial stacks that one search may make before it gives up."""
    most_partial_straight: int = 3_000
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
    starts_relaxed_each: int = 40
    """Starts of each demand whose stacks a relaxed search looks at: those with the best bounds."""
    walk_cells: int = 500_000
    """Entries of one array of a walk; a front that would make more is cut into slices."""
    bytes_a_partial: int = 200
    """Memory of a partial stack and of the candidate that it becomes."""

    # The number served.
    most_alike: int = 40
    """Candidates of one demand that the first pool begins with."""
    most_offered_quick: int = 2_000
    """Candidates of a choice before it is worked out more closely how many can be served."""
    effort_for_a_number: float = 0.3
    """To see how many the candidates at hand serve."""
    share_for_most: float = 0.8
    """Share of the time for finding a plan that serves as many as may be possible."""
    most_over: int = 120
    """Candidates of one demand with the start that the packing chose for it."""
    most_partial_over: int = 400_000
    """Partial stacks of the search for these candidates."""
    most_patterns: int = 4_000
    """Patterns of scarce pieces in one packing."""
    most_partial_patterns: int = 100_000
    """Partial stacks while patterns are listed."""
    effort_for_small_stacks: float = 0.5
    """For the choice of patterns whose stacks are smallest."""
    spare_of_scarce: int = 2
    """Patterns are listed with up to this many pieces more than a demand needs."""

    # Columns, the restricted master and prices.
    most_rounds: int = 40
    """Rounds of pricing."""
    most_idle: int = 3
    """Rounds without progress, where searches are too large to prove that there is none."""
    new_each: int = 24
    """Columns that each demand adds to the restricted master in a round."""
    columns_a_look: int = 50
    """Columns added to a linear programme between looks at the clock."""
    bytes_a_master_entry: int = 500
    """Memory of an entry of the restricted master."""
    bytes_a_choice_entry: int = 300
    """Memory of an entry of a choice among columns."""
    choice_rows_a_look: int = 250
    """Columns set up for a choice between looks at the clock."""
    heaviest_class: int = 1 << 20
    """The largest weight of a priority class in one sum over several classes."""

    # Closing the gap between bound and plan.
    effort_for_a_plan: float = 4.0
    """For finding any plan where none could be proven best."""
    effort_for_a_quick_plan: float = 0.4
    """The same where a plan that is not found quickly is left to other means."""
    effort_before_branching: float = 0.1
    """The same where branching follows, which finds better plans in the same time."""
    branches_for_a_plan: int = 300
    """Branches opened for such a plan."""
    part_near_bound: int = 50
    """Branching looks for plans above the bound by at most one part in this many."""
    effort_for_a_quick_choice: float = 0.05
    """Enough for most choices; those that need more are narrowed down first."""
    share_for_a_plan: float = 0.4
    """Share of the time left for a plan, or for a choice while no plan is known."""
    nearest_each: tuple[int, ...] = (70, 160, 400)
    """Candidates of one demand among which a plan is looked for, by try."""
    blocks_above_bound: tuple[int, ...] = (2, 1, 0)
    """Blocks above the bound up to which these are listed, the first that gives enough."""
    parts_above_bound: tuple[int, ...] = (25, 100, 400)
    """The same for errors: parts of the bound above it, one in so many."""
    many_within_gap: int = 1_000
    """With more candidates, choosing from all takes longer than looking for a plan among a few."""

    # Errors after the fewest blocks.
    most_offered: int = 30_000
    """Columns with the fewest blocks that errors are settled among."""
    many_offered: int = 400
    """With more candidates, choosing takes longer than pricing."""
    offered_each_first: int = 10
    """Candidates of a demand that the first limit of errors lets in."""
    offered_each_best: int = 40
    """Candidates of a demand to begin pricing with; with too few, pricing goes astray."""

    # The least largest error.
    pool_each: int = 40
    """Candidates of each demand that pricing begins with."""
    few_stacks: int = 8
    """With so few stacks, searches do not need all sides of the error."""
    part_of_first_limit: int = 8
    """The first limit is the bound plus one part of it in this many: often near the least."""
    nearer: tuple[int, ...] = (64, 16, 4, 1)
    """Plans are looked for at limits above the least by one part of it in so many."""
    near_enough: int = 16
    """Before the total is settled, a plan is that near the limit where none is found: by one part
    of the bound in so many."""
    nearest_to_limit_each: int = 60
    """Columns of each demand among which a plan within a limit is looked for."""
    effort_within_limit: float = 2.0
    """For such a plan."""
    share_to_approach: float = 0.4
    """Share of the time for ruling limits out in steps, before halving."""
    parts_of_limit: int = 64
    """The first step from the first limit, as one part of the bound in this many."""

    # Narrowing a choice down, and branching.
    narrow_each: int = 8
    """Columns of each demand in the first choice, if the bound allows so few."""
    wider: float = 1.6
    """Factor by which the number of columns grows in the next step."""
    wider_by_branching: float = 2.5
    """The same where branching takes most of the time, which grows more slowly with the limit."""
    effort_before_branches: float = 0.5
    """For the model of prices; after it, branching is likely to be the faster way."""
    prices_rule_out: int = 100
    """A fraction of a cost, one in so many, so small that prices rule nothing out within it."""
    effort_at_once: float = 1.0
    """For a choice without presolve, which can take as long as an easy search."""
    programme_each: int = 15
    """Columns of each demand that a linear programme begins with."""
    programme_more: int = 250
    """Columns that a linear programme takes in at one time."""
    most_cut_rounds: int = 12
    """Rounds of cuts."""
    most_cuts: int = 40
    """Cuts of a round."""
    cuts_a_row: int = 6
    """Cuts of a round that one row may be in."""
    most_cut_rows: int = 250
    """Rows among which three are looked for that a cut holds for."""
    most_triples: int = 20_000
    """Such triples that are looked at."""
    least_broken: float = 0.02
    """A cut is broken by at least so much."""
    branch_cells: int = 2_000_000
    """Columns times rows, 16 MB: beyond, the first programmes alone take seconds."""
    columns_in_pairs: int = 200
    """Few enough columns to compare all pairs in less time than a programme takes."""
    columns_as_they_are: int = 70
    """So few columns that solving a programme over them takes longer than branching."""
    artificial_dearer: float = 8.0
    """Factor by which the cost of a demand that is not served rises while it pays."""

    artificial_of_limit: int = 64
    """The cost of a demand without a column while branching, as a multiple of the limit."""

    # Single stacks.
    share_for_one: float = 0.4
    """Share of the time left for one stack by a model of its own."""
    effort_for_one: float = 2.0
    """The same: what takes longer is left undecided on every machine."""
    least_seconds_for_one: float = 0.05
    """With less time than this, it is not begun."""
    share_for_each_alone: float = 0.05
    """Share of the time for what can be built alone; the rest is left to the search."""
    most_wear_ends: int = 5_000
    """Choices of wear blocks for one stack."""
    few_blocks: int = 6
    """Up to so many blocks, the fewest are looked for."""
    most_sums: int = 200_000_000
    """Bits of one set of sums, 25 MB."""
    bytes_for_sums: int = 200_000_000
    """Bytes allowed where no budget counts them."""
    copies_of_sums: int = 8
    """Copies of all sums while a stack is picked from them."""
    most_work_on_sums: int = 4_000_000_000
    """Bits moved for one answer: about 0.3 s on one core."""
    work_on_sums_a_second: int = 5_000_000_000
    """Bits moved in a second on a slow core; a third of what was measured."""
    seconds_for_few: float = 0.1
    """Time for the sums of a few blocks."""

    # Plans put together stack by stack.
    effort_of_first_plan: int = 1_000
    """Stacks tried; those that find no fine blocks free take next to no time."""
    bits_an_effort: int = 1_000_000
    """Bits of tables that count as one stack tried: somewhat more than an 81-piece set takes."""
    effort_of_exact_stack: int = 3
    """What a stack counts that is not read from tables."""
    most_coarse: int = 6
    """Pieces of a stack beside the fine ones."""
    most_sizes: int = 120
    """Sizes in a table with alike pieces; beyond this, one piece of each length."""
    most_coarse_bits: int = 60_000_000
    """Bits of one table: some milliseconds and 8 MB."""
    kept_coarse_bits: int = 120_000_000
    """Bits of all tables that are kept."""
    most_fine_uses: int = 4_096
    """Ways to use the fine pieces, in total; the finest series of a set has 512 or 1024."""
    most_steps: int = 24
    """Steps of series that are looked at."""

    # Explanations.
    most_thinned: int = 4
    """Conflicts known from simple proofs that are thinned."""
    share_for_alone: float = 0.4
    """Share of the time for whether one target can be served, where lengths alone do not tell."""
    share_for_cause: float = 0.3
    """Share of the time for whether targets of one time can be served by themselves."""
    share_for_remedy: float = 0.3
    """Share of the time for one target without some of its restrictions."""
    share_for_better_rest: float = 0.4
    """Share of the time for finding a better rest of a stack with an added block."""
    most_kept_to_explain_ms: float = 1_500
    """The most time kept from other goals once it is proven that not all can be served: enough for
    the block that 60 stacks with times contend for most, ms."""
    share_for_scarce: float = 0.5
    """Share of the time for the blocks that are scarce."""
    most_scarce_ranked: int = 4
    """Kinds whose worth is searched for where times differ, each some tenths of a second."""
    most_scarce_tried: int = 10
    """All kinds that are looked at more closely."""
    most_starts_searched: int = 2_000
    """Ways to begin a stack, in all kinds for which a plan is then searched for at length, but for
    one: for 60 demands that takes some seconds."""
    effort_for_packing: float = 2.0
    """For a packing with one more of a kind; a twentieth of it is usually enough."""
    effort_of_one_more: int = 1_500
    """Stacks tried with one more of a kind: some 0.05 s."""
    most_lowered: int = 3
    """Numbers served that are tried until prices do not rule one out."""
    effort_for_most: float = 2.0
    """To see how many the candidates nearest to the prices serve."""
    share_for_additions: float = 0.5
    """Share of the rest for blocks to add; what is left then is for the conflict."""
    most_new: int = 2
    """Blocks to add of which every choice is tried."""
    most_additions_tried: int = 4_000
    """Choices of added blocks for one stack, the same on every machine."""
    rounding_times: tuple[int, ...] = (1, 5, 10, 50)
    """How many of the usual steps of rounding are tried, finest first."""
    most_sets: int = 100_000
    """Sets of one size that are asked whether they stand together."""
    most_sets_tried: int = 250
    """Sets that no known plan serves."""
    conflict_sizes_first: int = 2
    """Conflicts of so few demands are found at once if there are any."""
    share_for_smallest: float = 0.6
    """Share of the time for proving the smallest size, if the rest may be needed for thinning."""
    plans_rebuilt: int = 3
    """Known plans that are rebuilt for one set."""
    effort_of_standing: int = 5_000
    """Stacks asked for, for all sets together: some 0.1 s."""
    effort_from_nothing: int = 200
    """The same for one set, built from nothing."""
    effort_of_a_search: int = 600
    """What a search counts as, whatever time it takes."""

    # Steps one after another.
    effort_for_changes: float = 4.0
    """For what changes fewest blocks, by the solver."""
    most_joint: int = 3_000
    """Candidates that one model over all stacks is made of."""
    most_changes_offered: int = 12_000
    """Candidates of plans with the proven values."""
    path_cells: int = 200_000
    """Entries of one array while a path is looked for."""
    most_ways_of_a_step: int = 100_000
    """Ways to put stacks side by side that are looked at for one step."""
    way_cells: int = 20_000_000
    """Ways times kinds, of 2 bytes."""

    # The next best stacks.
    share_for_tables: float = 0.7
    """Share of the time for finding them by tables."""
    share_for_next: float = 0.6
    """Share of the time for one more by the model over single blocks."""
    least_seconds_for_next: float = 0.1
    """With less time than this, it is not begun."""
    most_partial_of_all: int = 10_000
    """Partial stacks in an attempt to list every stack, which works on small shelves."""
    most_partial_ranked: int = 200_000
    """Partial stacks where a limit rises."""
    steepness: int = 3
    """How fast that limit rises."""

    # The model over single blocks.
    effort_to_serve_all: float = 1.0
    """For a plan that serves every demand, before fewer are accepted."""
    share_for_serving: float = 0.7
    """Share of the time that goes into serving more; the rest is for serving well."""
    small_problem: int = 4_000
    """Pieces times demands for which each stack of the first plan is searched for by itself."""
    share_for_start: float = 0.6
    """Share of the time for that plan; if it takes longer, there is none to find a better one."""
    clock: float = 0.97
    """Share of the time that the solver is told of: it checks its clock late."""
    seconds_a_use: float = 15e-6
    """Time to make the model, for each kind and demand."""
    seconds_a_variable: float = 3.5e-6
    """Time that the solver takes to load it, during which it does not check the clock."""
    bytes_of_model: int = 130_000_000
    """The solver's memory for a model that is not small."""
    bytes_a_use: int = 4_000
    """The same for each kind and demand; more than was measured in half a minute."""
    bytes_a_use_of_few: int = 50_000
    """The same for a small model."""
    bytes_a_member: int = 300
    """The same for each kind and member of a clique, where a demand is a member of several."""
    bytes_of_sums: int = 600_000_000
    """Bytes moved to fill one table of least sums; a core moves about 5 GB in a second."""
    bytes_of_sums_a_demand: int = 60_000_000
    """The same for each demand."""
    copies_of_least_sums: int = 3
    """Copies of such a table while it is filled."""
    most_place_values: int = 8
    """Steps of series that get a rule; real sets have 2 to 5, a heap of odd lengths any number."""
    lengths_told_apart: int = 48
    """Lengths of a window that get a variable of their own, the most accurate first."""


TUNING: Final = Tuning()
"""What is used unless something else is passed in."""
