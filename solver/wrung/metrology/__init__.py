"""How long a stack really is, and how sure: certificates, temperature, budgets, decisions.

Lengths are quanta of 0.01 nm as everywhere; uncertainties on the way are floats of nm, and only
they. `stack_budget` gives the table of the GUM for one stack, `decide` holds it against a
tolerance, `check_stack` does both for a stack built by hand, `read_certificate` brings blocks in.
drift.py follows a block from certificate to certificate; contact.py and soaking_time.py estimate
how far a ball is pressed in and how long a body takes to soak. `STANDARD` are the conditions where
none are stated, `WORST_CASE` is the usual error measure.

Planning with it
----------------
`wrung.solve` compares by an `ErrorMeasure`; measuring.py makes costs of it that add over blocks. Of
what follows it takes the worst case, corrected or not, with equal or unequal limits; and the
variance of corrected stacks, or the mean square error of uncorrected ones, where nothing is shared.
A `RequiredRatio` limits the same figures. Plans do not count shared parts yet.

`block_cost` says what each block brings into any stack, as whole numbers that add. Let n be the
blocks of a stack, J the joint allowance, V the `joint_variance`, F the `fixed_variance`, off the
difference of its nominal length from the target, and sums go over its blocks.

Worst case, uncorrected (the contract's figure): the larger of two plain sums,
    off + Σ (deviation + plus) + (n - 1) J   and   -off + Σ (minus - deviation) + (n - 1) J.
With equal margins that is |off + Σ deviation| + Σ margin + (n - 1) J. For grades with unequal
limits ``plus`` and ``minus`` differ; the contract's default takes the larger one for both, so
unequal margins are for requests that ask for them.

Worst case, corrected (the user allows for the known offset): one plain sum,
    Σ (plus + minus) / 2 + (n - 1) J; to stay whole, minimise twice that.

Expanded uncertainty, corrected: the coverage factor times √Q, with the variance
    Q = Σ variance + Σ_s (Σ amount_s)² + (n - 1) V + F,
where s runs over what blocks share: the reference of a certificate, a coefficient of expansion, a
temperature. `stack_variance` computes it exactly for any candidate.
  * Certificates independent and everything at 20 °C: nothing is shared, Q is a plain sum of
    `variance_of`, and linear machinery minimises it exactly.
  * Otherwise Q is a convex square of few sums. Two plain sums bound it from below: the sum of
    `variance_of` where the shared amounts have one sign, and for any s₀ the tangent
    (Σ a)² >= 2 s₀ Σ a - s₀². A planner that prunes by the larger of several sums and then
    evaluates each candidate by `stack_variance` is exact; amounts times 2 s₀ are block costs.
  * One certificate for all blocks and little else: minimising Σ amount is minimising Q.
What can honestly be proven least is the combined standard uncertainty. Its order is that of the
expanded uncertainty as long as the coverage factor is the same, which it is with certificates that
state no degrees of freedom. Otherwise the budget of the answer says the factor that each stack
really has. Largest and total over stacks are taken of Q, whose unit is (0.1 nm)².

Expanded uncertainty, uncorrected: the budget's |off + Σ offset| + k √Q is neither a sum nor convex.
The planner uses the mean square error, Q + (off + Σ offset)²: k times its root is the expanded
uncertainty with the offset as one more standard uncertainty (S. D. Phillips, K. R. Eberhardt,
B. Parry, J. Res. Natl. Inst. Stand. Technol. 102, 577, 1997, from memory). The square lies above
its tangents, x² >= 2 t x - t², so for any t a plain sum bounds it from below; candidates are then
evaluated exactly.

A required ratio R of the tolerance's width W to twice the uncertainty: Q <= `most_variance`, one
more limit on a plain sum (or on the bounds above), with `safe_factor` for k: no stack's own factor
is larger, so a stack that keeps the limit keeps the ratio; one that fails by little might keep it
with its own factor and is left out. Uncorrected, the same of the mean square error.

Blocks that are overdue on the day of use are left out before planning, see `sort_by_due`.
"""

from wrung.calibrations import Calibration
from wrung.metrology.budget import Budget, Combined, Errors, Note, Row, stack_budget
from wrung.metrology.certificates import (
    CertificateImport,
    Remark,
    apply_certificates,
    read_certificate,
)
from wrung.metrology.conditions import STANDARD, Conditions, Extra, Part
from wrung.metrology.decision_rules import Conformity, Risks
from wrung.metrology.decisions import Decision, decide
from wrung.metrology.error_measure import WORST_CASE, ErrorMeasure, RequiredRatio
from wrung.metrology.overdue import Due, Overdue, day_of_use, sort_by_due
from wrung.metrology.planning_costs import (
    BlockCost,
    Shared,
    block_cost,
    fixed_variance,
    joint_variance,
    most_variance,
    safe_factor,
    stack_variance,
    variance_of,
)
from wrung.metrology.purpose import Purpose, Zone
from wrung.metrology.quantities import (
    Quantity,
    arcsine,
    between,
    exactly,
    expanded,
    freedom_of,
    normal,
    rectangular,
    triangular,
)
from wrung.metrology.readings import Instrument, Reading, expected_reading
from wrung.metrology.stack_check import Better, StackCheck, better_stacks, check_stack
from wrung.metrology.student import expand
from wrung.metrology.temperature import Growth, growth

__all__ = [
    "STANDARD",
    "WORST_CASE",
    "Better",
    "BlockCost",
    "Budget",
    "Calibration",
    "CertificateImport",
    "Combined",
    "Conditions",
    "Conformity",
    "Decision",
    "Due",
    "ErrorMeasure",
    "Errors",
    "Extra",
    "Growth",
    "Instrument",
    "Note",
    "Overdue",
    "Part",
    "Purpose",
    "Quantity",
    "Reading",
    "Remark",
    "RequiredRatio",
    "Risks",
    "Row",
    "Shared",
    "StackCheck",
    "Zone",
    "apply_certificates",
    "arcsine",
    "better_stacks",
    "between",
    "block_cost",
    "check_stack",
    "day_of_use",
    "decide",
    "exactly",
    "expand",
    "expanded",
    "expected_reading",
    "fixed_variance",
    "freedom_of",
    "growth",
    "joint_variance",
    "most_variance",
    "normal",
    "read_certificate",
    "rectangular",
    "safe_factor",
    "sort_by_due",
    "stack_budget",
    "stack_variance",
    "triangular",
    "variance_of",
]
