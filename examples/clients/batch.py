"""Have many requests answered in the background; Python 3.8 or newer, standard library only.

batch.py REQUESTS RESULTS KEY [SITE]    one request a line in, one answer a line out, in order

KEY is an Idempotency-Key of your own, another one for each batch. CRIB_ADDRESS is
http://127.0.0.1:8000 if not set; CRIB_KEY is the API key, if the service wants one. Ends with 1 if
the service refuses the batch; what it refuses of a request stands in the line of that request.
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


def ask(path, body=None, headers=None):
    """Return the answer to a request, to be read; a busy service says how long to wait.

    It may be sent again if the connection breaks, as a batch with its key is made once.
    """
    known = dict(headers or {})
    if "CRIB_KEY" in os.environ:
        known["Authorization"] = "Bearer " + os.environ["CRIB_KEY"]
    request = urllib.request.Request(ADDRESS + path, data=body, headers=known)
    for left in reversed(range(5)):
        try:
            return urllib.request.urlopen(request, timeout=60)
        except urllib.error.HTTPError as refused:
            if refused.code not in (429, 503) or not left:
                raise
            time.sleep(int(refused.headers.get("Retry-After", "1")))
        except (OSError, http.client.HTTPException):
            if not left:
                raise
            time.sleep(1)
    return None


def post(requests, key, *site):
    """Return the address of a new batch."""
    kind = {"Content-Type": "application/x-ndjson", "Idempotency-Key": key}
    query = "?site=" + site[0] if site else ""
    with ask("/v1/batches" + query, Path(requests).read_bytes(), kind) as response:
        return response.headers["Location"]


def keep_results(batch, path):
    """Write each answer as it comes; return how many there are, and how many are problems."""
    last, total, failed = -1, 0, 0
    with Path(path).open("wb") as results:
        ended = False
        while not ended:
            # Asked before the lines are read, so that none comes after those.
            with ask(batch) as response:
                ended = json.load(response)["ended_at"] is not None
            try:
                with ask(batch + "/results?after=" + str(last)) as lines:
                    for line in lines:
                        result = json.loads(line)
                        results.write(line)
                        last, total = result["position"], total + 1
                        failed += result["problem"] is not None
            except urllib.error.HTTPError:
                raise
            except (OSError, ValueError, http.client.HTTPException):
                # It broke off, perhaps in the middle of a line: go on behind the last whole one.
                ended = False
    return total, failed


if __name__ == "__main__":
    if not 4 <= len(sys.argv) <= 5:
        sys.exit(__doc__)
    try:
        address = post(sys.argv[1], *sys.argv[3:])
        print("batch:", address)
        answers, problems = keep_results(address, sys.argv[2])
        print(f"answers: {answers}, of them problems: {problems}")
    except urllib.error.HTTPError as refused:
        problem = json.load(refused)
        print(problem["title"], "-", problem.get("detail", ""), file=sys.stderr)
        sys.exit(1)
