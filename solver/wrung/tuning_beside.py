"""Thresholds of what stands beside the search for a best plan.

These are first plans, explanations, steps one after another, next best stacks, and the model over
single blocks.
"""

from msgspec import Struct


class BesideTuning(Struct, frozen=True, kw_only=True):
    """The part of `wrung.tuning.Tuning` that is about them; shares and efforts as there."""

    # Single stacks.
    share_for_one: float = 0.4
    """Share of the time left for one stack by a model of its own."""
    effort_for_one: float = 2.0
    """The same: what takes longer is left undecided on every machine."""
    least_seconds_for_one: float = 0.05
    """With less time than this, it is not begun."""
    share_for_each_alone: float = 0.05
    """Share of the time for what can be built alone; the rest is left to the search."""
    share_for_sums: float = 0.3
    """Share of the time for sums of which stacks are then picked: to pick one takes twice as long
    as all the sums."""
    most_sums: int = 40_000_000
    """Sums of one set."""
    bytes_a_sum: int = 8
    """While a stack is picked from them, beside a bit for each block and sum."""
    seconds_a_piece: float = 1e-5
    """Time to sort one piece among the others, three times over, before sums are worked out."""
    sums_a_second: int = 20_000_000
    """Sums that are looked over in a second on a slow core."""
    bytes_a_sum_of_two: int = 80
    """Memory for looking over those of inch and of metric blocks together."""
    most_work_on_sums: int = 4_000_000_000
    """Sums moved for one answer: some tenths of a second on one core."""
    work_on_sums_a_second: int = 5_000_000_000
    """Sums moved in a second on a slow core; less than a third of what was measured."""

    # Plans put together stack by stack.
    effort_of_first_plan: int = 30
    """Stacks tried for each wanted; those that find no fine blocks free take next to no time."""
    effort_to_serve_more: int = 250
    """The same for a plan that a search came to."""
    stacks_taken_out: int = 2
    """Stacks that make way for one that is missing."""
    stacks_put_in: int = 8
    """Missing ones that are tried in their place, before these are built again."""
    unlike: float = 2.5
    """Where the longest stack has more than so many times the pieces of the median one, stacks of a
    plan are built again together."""
    share_to_recreate: float = 0.15
    """Share of the time left for that."""
    effort_to_recreate: int = 3_000
    """Stacks tried for that, for each target; one from large tables counts as several."""
    most_recreated_in_vain: int = 150
    """Tries in a row without a better plan."""
    coarse_recreated: tuple[int, ...] = (24, 16, 8)
    """Pieces beside the fine ones in a stack that is built again: the first of these for which the
    tables are small enough."""
    most_recreated_beside: int = 3
    """Stacks that are built again beside one, at most."""
    parts_left: tuple[int, ...] = (0, 2, 3)
    """One part in so many of all pieces is left for the stacks that follow; 0 leaves none."""
    part_with_worst: float = 0.7
    """How often the stack with the largest error is among those that are built again; else, as
    often, a target without one is."""
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
    most_choices_of_ends: int = 64
    """Choices of lengths for the wear blocks of a stack, if it is read from tables."""
    most_fine_uses: int = 4_096
    """Ways to use the fine pieces, in total; the finest series of a set has 512 or 1024."""
    most_steps: int = 24
    """Steps of series that are looked at."""

    # Explanations.
    most_thinned: int = 4
    """Conflicts known from simple proofs that are thinned."""
    share_for_a_question: float = 0.4
    """Share of the time for asking the engines one thing, such as whether a target has a stack."""
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
    effort_of_one_more: int = 25
    """Stacks tried for each demand with one more of a kind: for 60 demands some 0.05 s."""
    most_lowered: int = 3
    """Numbers served that are tried until prices do not rule one out."""
    effort_for_most: float = 1.0
    """To see how many the candidates nearest to the prices serve."""
    share_for_additions: float = 0.5
    """Share of the rest for blocks to add; what is left then is for the conflict."""
    most_new: int = 2
    """Blocks to add of which every choice is tried."""
    most_additions_tried: int = 4_000
    """Choices of added blocks for one stack, the same on every machine."""
    additions_a_look: int = 250
    """As many of them are looked at together."""
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
    effort_of_a_search: int = 600
    """What a search counts as, whatever time it takes."""

    # Steps one after another.
    effort_for_changes: float = 4.0
    """For what changes fewest blocks, by the solver."""
    most_joint: int = 3_000
    """Candidates of plans with the proven values that one model is made of."""
    bytes_a_joint_use: int = 16
    """For each of these and each kind of block: counts, and comparing them."""

    # The next best stacks.
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
