"""At the counter of a tool crib; Python 3.8 or newer, standard library only.

crib.py plan REQUEST KEY                          promise blocks to a job
crib.py issue SITE BLOCK...                       blocks go out, by a scan of their ids
crib.py return SITE BLOCK [CONDITION] [REASON]    one comes back: damaged "burr at the edge"
crib.py replan PLAN [REASON]                      other blocks for those that failed

CRIB_ADDRESS is http://127.0.0.1:8000 if not set; CRIB_KEY is the API key, if the service wants
one. Ends with 1 if the service refuses: of a plan, 409 says who has the blocks.
"""

import http.client
import json
import os
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

ADDRESS = os.environ.get("CRIB_ADDRESS", "http://127.0.0.1:8000")


def post(path, body, headers):
    """Return the answer to a request; a busy service (503, 429) says how long to wait."""
    known = {"Content-Type": "application/json", **headers}
    if "CRIB_KEY" in os.environ:
        known["Authorization"] = "Bearer " + os.environ["CRIB_KEY"]
    request = urllib.request.Request(ADDRESS + path, data=body, headers=known)
    for left in reversed(range(5)):
        try:
            with urllib.request.urlopen(request, timeout=60) as response:
                return json.load(response)
        except urllib.error.HTTPError as refused:
            if refused.code not in (429, 503) or not left:
                raise
            time.sleep(int(refused.headers.get("Retry-After", "1")))
    return None


def post_once(path, body, key):
    """Return the answer to a request that happens once, however often it is sent.

    If the connection breaks, nobody knows whether it was done. With the same key it may be sent
    again: it is not done twice, and the first answer comes back.
    """
    for left in reversed(range(5)):
        try:
            return post(path, body, {"Idempotency-Key": key})
        except urllib.error.HTTPError:
            raise
        except (OSError, http.client.HTTPException):
            if not left:
                raise
            time.sleep(1)
    return None


def plan(request, key):
    """Promise blocks to a job."""
    show(post_once("/v1/plans", Path(request).read_bytes(), key))


def issue(site, *blocks):
    """Let blocks go out to the plan that each is promised to."""
    answer = post("/v1/sites/" + site + "/issues", encode({"blocks": blocks}), {})
    for loan in answer["loans"]:
        print(loan["block"], "is out for", loan["plan"], "until", loan["due_at"])


def take_back(site, block, condition="fit", *reason):
    """Take a block back, and say which plans cannot count on it any longer."""
    back = {"id": block, "condition": condition}
    if reason:
        back["reason"] = reason[0]
    answer = post("/v1/sites/" + site + "/returns", encode({"blocks": [back]}), {})
    print(block, "is back:", answer["blocks"][0]["condition"])
    for risk in answer["at_risk"]:
        print("at risk:", risk["plan"], "of job", risk["job"], "from", risk["starts_at"])


def replan(name, *reason):
    """Give a plan other blocks for those that failed; its other stacks stay as they are."""
    body = {"reason": reason[0]} if reason else {}
    show(post("/v1/plans/" + name + "/replan", encode(body), {}))


def encode(body):
    """Return JSON as it is sent."""
    return json.dumps(body).encode("utf-8")


def show(kept):
    """Print a plan and its stacks."""
    print("plan:", kept["id"])
    for stack in kept["answer"]["stacks"]:
        print(stack["target"] + ":", " + ".join(block["id"] for block in stack["blocks"]))


def show_problem(problem):
    """Print why the service refuses; of blocks that are taken, who has them and until when."""
    print(problem["title"], "-", problem.get("detail", ""), file=sys.stderr)
    for fault in problem.get("errors", []):
        print(" ", fault["pointer"] + ":", fault["detail"], file=sys.stderr)
    for each in problem.get("taken", []):
        print(" ", each["block"], "has job", each["job"], "until", each["ends_at"], file=sys.stderr)


COMMANDS = {"plan": plan, "issue": issue, "return": take_back, "replan": replan}

if __name__ == "__main__":
    if len(sys.argv) < 3 or sys.argv[1] not in COMMANDS:
        sys.exit(__doc__)
    try:
        COMMANDS[sys.argv[1]](*sys.argv[2:])
    except urllib.error.HTTPError as refused:
        show_problem(json.load(refused))
        sys.exit(1)
