"""Signatures of webhooks against Standard Webhooks, <https://www.standardwebhooks.com>."""

import base64
from datetime import UTC, datetime

from wrung_service.usecases.webhooks.keep_endpoint import new_secret
from wrung_service.usecases.webhooks.sending import signed_headers


def test_the_example_of_the_standards_own_tests() -> None:
    """Typed from memory, before it was run; the offset from UTC must make no difference."""
    headers = signed_headers(
        "msg_p5jXN8AQM9LWM0D4loKWxJek",
        '{"test": 2432232314}',
        ["whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"],
        datetime.fromtimestamp(1614265330, UTC).astimezone(),
    )

    assert headers == {
        "webhook-id": "msg_p5jXN8AQM9LWM0D4loKWxJek",
        "webhook-timestamp": "1614265330",
        "webhook-signature": "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=",
    }


def test_secrets_have_the_form_and_the_length_that_the_standard_asks_for() -> None:
    """``whsec_`` and base64 of 24 to 64 random bytes."""
    made = {new_secret() for _ in range(20)}

    assert len(made) == 20
    assert {len(base64.b64decode(each.removeprefix("whsec_"))) for each in made} == {32}
