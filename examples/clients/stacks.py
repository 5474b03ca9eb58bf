"""Post a request, again if the service is busy, and print its stacks: stacks.py REQUEST [ADDRESS].

Python 3.8 or newer, standard library only. Ends with 1 if the service refuses the request.
"""

import json
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path


def post(address, body):
    """Return the answer to a request body; both as JSON text decoded."""
    request = urllib.request.Request(
        address + "/v1/stacks", data=body, headers={"Content-Type": "application/json"}
    )
    with urllib.request.urlopen(request, timeout=60) as response:
        return json.load(response)


def post_until_taken(address, body, tries=5):
    """Wait as long as a busy service says. Posting again is safe: nothing is stored."""
    for left in reversed(range(tries)):
        try:
            return post(address, body)
        except urllib.error.HTTPError as refused:
            if refused.code != 503 or not left:
                raise
            time.sleep(int(refused.headers.get("Retry-After", "1")))
    return None


def show(answer):
    """Print one line a stack, one a target without one."""
    print("outcome:", answer["outcome"])
    for stack in answer["stacks"]:
        blocks = " + ".join(block["nominal"] for block in stack["blocks"])
        error = f"within {stack['worst_case_error']} {answer['small_unit']}"
        print(f"{name_of(stack)}: {blocks} = {stack['nominal']} {answer['unit']}, {error}")
    for unmet in answer["unmet"]:
        print(f"{name_of(unmet)}: no stack, {unmet['reason'].replace('_', ' ')}")


def name_of(stack):
    """Return the target's ref, and which of its stacks where it has several."""
    return stack["target"] if stack["role"] is None else f"{stack['target']} {stack['role']}"


def show_problem(error):
    """Print what is wrong with the request, and where."""
    problem = json.load(error)
    print(problem["title"], "-", problem.get("detail", ""), file=sys.stderr)
    for fault in problem.get("errors", []):
        print(f"  {fault['pointer']}: {fault['detail']}", file=sys.stderr)


if __name__ == "__main__":
    place = sys.argv[2] if len(sys.argv) > 2 else "http://127.0.0.1:8000"
    try:
        show(post_until_taken(place, Path(sys.argv[1]).read_bytes()))
    except urllib.error.HTTPError as refused:
        show_problem(refused)
        sys.exit(1)
