"""A request that takes longer than any test waits: the search must be ended to come back."""

import random
from decimal import Decimal
from typing import Any


def hard_request(time_limit_ms: int, *, seed: int = 1, targets: int = 60) -> dict[str, Any]:
    """Least error for many targets from three certified inch sets, with odd deviations.

    For 60 targets nothing is found for long; for 20 something is soon, and no proof for long.
    """
    chance = random.Random(seed)  # noqa: S311 - repeatable, not secret
    nominals = [
        *(Decimal(n) / 10_000 for n in range(1001, 1010)),
        *(Decimal(n) / 1000 for n in range(101, 150)),
        *(Decimal(n) / 1000 for n in range(50, 951, 50)),
        *(Decimal(n) for n in range(1, 5)),
    ]
    blocks = [
        {
            "id": f"{copy}:{nominal}",
            "nominal": str(nominal),
            "deviation": str(Decimal(chance.randint(-60, 60)) / 10),
            "expanded_uncertainty": "2.1",
        }
        for copy in range(3)
        for nominal in nominals
    ]
    wanted = [
        {
            "ref": f"op{n}",
            "kind": "length",
            "length": str(Decimal(chance.randint(4000, 60000)) / 10_000),
        }
        for n in range(targets)
    ]
    return {
        "unit": "in",
        "blocks": blocks,
        "targets": wanted,
        "objective": "least_error",
        "time_limit_ms": time_limit_ms,
    }
