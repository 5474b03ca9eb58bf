"""Uses what openapi-python-client made of the document: use.py ADDRESS."""

import sys
from io import BytesIO

from generated import AuthenticatedClient
from generated.api.certificates import import_certificate
from generated.api.stacks import solve_stacks
from generated.models import (
    ImportedCertificate,
    Problem,
    SetOnShelf,
    StackAnswer,
    StackRequest,
    Unit,
    WantedLength,
    WantedLengthKind,
)
from generated.types import File

client = AuthenticatedClient(sys.argv[1], token="none")  # noqa: S106 - nobody asks for it
target = WantedLength(kind=WantedLengthKind.LENGTH, ref="op10", length="0.3506")
shelf = [SetOnShelf(id="crib", composition="inch-81", grade="AS-1")]
answer = solve_stacks.sync(
    client=client, body=StackRequest(unit=Unit.IN, sets=shelf, targets=[target])
)
assert isinstance(answer, StackAnswer)
certificate = b"id,nominal,unit,deviation,expanded_uncertainty\na,0.1006,in,1.2,2"
imported = import_certificate.sync(client=client, body=File(payload=BytesIO(certificate)))
assert isinstance(imported, ImportedCertificate)
refused = solve_stacks.sync(client=client, body=StackRequest(unit=Unit.IN, targets=[]))
assert isinstance(refused, Problem)
print(answer.outcome.value, len(answer.stacks), len(imported.blocks), refused.status)  # noqa: T201
