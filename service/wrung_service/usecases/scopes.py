"""What a caller may do: the four scopes of access."""

from typing import Final, Literal, TypeAlias, get_args

Scope: TypeAlias = Literal["read", "plan", "crib", "admin"]
"""``read``: ask, without changing anything. ``plan``: make, change and end plans as well. ``crib``:
keep sets and blocks, issue and return. ``admin``: everything."""

SCOPES: Final[tuple[Scope, ...]] = get_args(Scope)
_CONTAINED: Final[dict[Scope, frozenset[Scope]]] = {
    "read": frozenset({"read"}),
    "plan": frozenset({"read", "plan"}),
    "crib": frozenset({"read", "crib"}),
    "admin": frozenset(SCOPES),
}


def allowed_by(given: str) -> frozenset[Scope]:
    """All that names of scopes with spaces between them allow; unknown names allow nothing."""
    names = given.split()
    return frozenset[Scope]().union(*(_CONTAINED[each] for each in SCOPES if each in names))
