"""Bodies of an invented shop, and what tests have to say of problems."""

from typing import Any

from httpx import Response

Json = dict[str, Any]


def request(**members: object) -> Json:
    """A small request that is answered with a stack of two blocks, with other members if given."""
    return {
        "unit": "in",
        "blocks": [
            {"id": "a1", "nominal": "0.1006", "deviation": "1.2", "expanded_uncertainty": "2.0"},
            {"id": "a2", "nominal": "0.250", "limit_deviation": "5"},
        ],
        "targets": [target("op20", "0.3506")],
        "joint_allowance": "0",
        **members,
    }


def target(ref: str, length: str, **members: object) -> Json:
    """A target of a plain length."""
    return {"ref": ref, "kind": "length", "length": length, **members}


def block(name: str, nominal: str, **members: object) -> Json:
    """A block without certificate."""
    return {"id": name, "nominal": nominal, "limit_deviation": "5", **members}


def pointers(response: Response) -> list[str]:
    """Where a problem points, after a check that it is one."""
    assert response.headers["content-type"] == "application/problem+json", response.text
    problem = response.json()
    assert problem["status"] == response.status_code
    return [error["pointer"] for error in problem["errors"]]


def problem_name(response: Response) -> str:
    """The last part of the problem's type."""
    assert response.headers["content-type"] == "application/problem+json", response.text
    return str(response.json()["type"]).removeprefix("/problems/")
