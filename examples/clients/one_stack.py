"""Ask for one stack and print it: one_stack.py [ADDRESS].

Python 3.8 or newer, standard library only.
"""

import json
import sys
import urllib.request

ADDRESS = sys.argv[1] if len(sys.argv) > 1 else "http://127.0.0.1:8000"
# Lengths are text, so that no digit is lost.
REQUEST = {
    "unit": "in",
    "sets": [{"id": "crib", "composition": "inch-81", "grade": "AS-1"}],
    "targets": [{"ref": "op10", "kind": "length", "length": "0.3506"}],
}

request = urllib.request.Request(
    ADDRESS + "/v1/stacks",
    data=json.dumps(REQUEST).encode(),
    headers={"Content-Type": "application/json"},
)
with urllib.request.urlopen(request, timeout=60) as response:
    answer = json.load(response)
for stack in answer["stacks"]:
    print(f"{stack['target']}:", " + ".join(block["nominal"] for block in stack["blocks"]))
