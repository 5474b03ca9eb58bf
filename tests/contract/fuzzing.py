"""How schemathesis is run: every check, repeatable, up to 15 examples an operation."""

import os

import schemathesis

from wrung_service.settings import Settings

# Lines of NDJSON are text to it: what is in them, no schema says.
schemathesis.serializer.alias("application/x-ndjson", "text/plain")

SETTINGS = Settings(solve_workers=2, max_time_limit_ms=200, default_time_limit_ms=100)
"""Short searches: many of the requests made up at random have no answer to find."""


def fuzzing_config(*, again: bool = False) -> schemathesis.Config:
    """Every check; 422 is what a well-formed request gets that means nothing.

    `FUZZING_EXAMPLES` tries more, in another order each time.

    Args:
        again: the same document is fuzzed elsewhere, too. There are fewer examples, and bodies
            with each limit of each member, which are the same every time and take a minute of CPU
            time to make up, are left out.
    """
    examples = int(more) if (more := os.environ.get("FUZZING_EXAMPLES")) else 10 if again else 15
    bodies = {"include-method": ["POST", "PUT"], "phases": {"coverage": {"enabled": False}}}
    seed = {} if more else {"seed": 20261125}
    return schemathesis.Config.from_dict(
        {
            **seed,
            "operations": [bodies] if again else [],
            # How soon requests are made up says nothing of the service.
            "suppress-health-check": ["too_slow"],
            "generation": {"max-examples": examples, "deterministic": more is None},
            "checks": {
                # A body may be well formed and yet too large, which no schema can say.
                "positive_data_acceptance": {"expected-statuses": ["2xx", "404", "413", "422"]},
                "negative_data_rejection": {"expected-statuses": ["4xx"]},
            },
        }
    )
