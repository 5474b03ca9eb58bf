"""Requests made up from the document, good and bad, in this process."""

from typing import Any

import schemathesis
from schemathesis import Case

from contract.accepted import with_numbers
from contract.fuzzing import SETTINGS, fuzzing_config
from wrung_service.app import create_app

APP = create_app(SETTINGS)
schema = schemathesis.openapi.from_dict(with_numbers(APP.document), config=fuzzing_config())
schema.app = APP


@schema.parametrize()
def test_the_service_keeps_to_its_document(case: Case[Any]) -> None:
    """Statuses, bodies, headers; what is valid is accepted, what is not is refused."""
    case.call_and_validate()
