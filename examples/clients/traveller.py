"""Post a traveller in turn, print stacks, keep the record: traveller.py REQUEST RECORD [ADDRESS].

Python 3.8 or newer, standard library only. The request says `in_turn` and asks for a record.
"""

import json
import sys
import urllib.request
from pathlib import Path

ADDRESS = sys.argv[3] if len(sys.argv) > 3 else "http://127.0.0.1:8000"

request = urllib.request.Request(
    ADDRESS + "/v1/stacks",
    data=Path(sys.argv[1]).read_bytes(),
    headers={"Content-Type": "application/json"},
)
with urllib.request.urlopen(request, timeout=60) as response:
    answer = json.load(response)
for stack in answer["stacks"]:
    print(f"{stack['target']}:", " + ".join(block["nominal"] for block in stack["blocks"]))
Path(sys.argv[2]).write_text(json.dumps(answer["record"], indent=2), encoding="utf-8")
print("record:", answer["record"]["request_sha256"])
