"""What the document says of endpoints and deliveries."""

from typing import Final, get_args

from wrung_service.api.operations import (
    AnswerLink,
    Operation,
    PathParameter,
    QueryParameter,
    example,
)
from wrung_service.api.problem_types import (
    BODY_PROBLEMS,
    CONFLICT,
    INVALID_PARAMETER,
    NOT_FOUND,
    PRECONDITION_FAILED,
    STORE_PROBLEMS,
    VERSION_PROBLEMS,
)
from wrung_service.api.shelf.ids import PLAIN, PLAIN_IN_WORDS, SITE
from wrung_service.api.shelf.paging import NUMBERED, OF_PAGE, PAGING
from wrung_service.api.shelf.versions import ETAG, IF_ABSENT, IF_CHANGED, IF_MATCH, MADE_AT
from wrung_service.api.webhooks.shapes import (
    DeliveryDetails,
    DeliveryList,
    NewSecret,
    SecretRenewal,
    Webhook,
    WebhookDelivery,
    WebhookList,
    WebhookMembers,
)
from wrung_service.store.webhooks.deliveries import DeliveryState

_TAG: Final = "webhooks"
WEBHOOK: Final = PathParameter(
    name="webhook_id",
    description="Id of the endpoint: letters, digits and `. _ ~ -`.",
    example="erp",
    schema=PLAIN,
    allowed=PLAIN_IN_WORDS,
)
DELIVERY: Final = PathParameter(
    name="delivery_id",
    description="Id of the message, as in its header `webhook-id`.",
    example="msg_5f0c1a7be94d4f7d9a1d1f6a2b3c4d5e",
    schema=PLAIN,
    allowed=PLAIN_IN_WORDS,
)
_OF_WEBHOOK: Final = {
    "site_id": "$request.path.site_id",
    "webhook_id": "$response.body#/id",
}
_OF_DELIVERY: Final = {
    "site_id": "$request.path.site_id",
    "webhook_id": "$request.path.webhook_id",
    "delivery_id": "$response.body#/id",
}
_AFTER: Final = {
    "self": AnswerLink(operation="getWebhook", description="The endpoint.", parameters=_OF_WEBHOOK),
    "deliveries": AnswerLink(
        operation="listDeliveries", description="What was sent to it.", parameters=_OF_WEBHOOK
    ),
}
_READ: Final = {
    "self": AnswerLink(operation="getDelivery", description="The message.", parameters=_OF_DELIVERY)
}

PUT: Final = Operation(
    id="putWebhook",
    tag=_TAG,
    summary="Make or change a webhook",
    description="The client chooses its id. The answer that makes it has its secret, once; whoever "
    "loses it renews it. The same request may be sent again: it changes nothing then. To change "
    "one that is there, send its ETag as If-Match.",
    body=WebhookMembers,
    body_examples={"erp": example("Told of plans", "webhook-request")},
    answer=Webhook,
    answer_examples={"made": example("It was made", "webhook-made")},
    parameters=(SITE, WEBHOOK),
    headers=(IF_MATCH, IF_ABSENT),
    answer_headers=MADE_AT,
    made=True,
    scope="admin",
    links=_AFTER,
    problems=(NOT_FOUND, CONFLICT, *BODY_PROBLEMS, *VERSION_PROBLEMS, *STORE_PROBLEMS),
)
GET: Final = Operation(
    id="getWebhook",
    tag=_TAG,
    summary="Get a webhook",
    description="One endpoint, without its secret.",
    answer=Webhook,
    answer_examples={"erp": example("The endpoint", "webhook")},
    parameters=(SITE, WEBHOOK),
    headers=(IF_CHANGED,),
    answer_headers=ETAG,
    scope="admin",
    links={"deliveries": _AFTER["deliveries"]},
    problems=(NOT_FOUND, *STORE_PROBLEMS),
)
LIST: Final = Operation(
    id="listWebhooks",
    tag=_TAG,
    summary="List the webhooks of a site",
    description="By id, without secrets.",
    answer=WebhookList,
    answer_examples={"webhooks": example("One endpoint", "webhooks")},
    parameters=(SITE,),
    query=PAGING,
    headers=(IF_CHANGED,),
    answer_headers=OF_PAGE,
    scope="admin",
    problems=(NOT_FOUND, INVALID_PARAMETER, *STORE_PROBLEMS),
)
DELETE: Final = Operation(
    id="deleteWebhook",
    tag=_TAG,
    summary="Remove a webhook",
    description="With all its messages, those that wait among them. Send its ETag as If-Match. The "
    "answer is the endpoint as it was.",
    answer=Webhook,
    answer_examples={"erp": example("The endpoint as it was", "webhook")},
    parameters=(SITE, WEBHOOK),
    headers=(IF_MATCH,),
    scope="admin",
    problems=(NOT_FOUND, *VERSION_PROBLEMS, *STORE_PROBLEMS),
)
RENEW: Final = Operation(
    id="renewWebhookSecret",
    tag=_TAG,
    summary="Renew the secret of a webhook",
    description="From now on messages carry a signature of the new secret, and for `keep_hours` "
    "one of the secret before it as well, so that the receiver can change over in that time.",
    body=SecretRenewal,
    body_examples={"day": example("Both are valid for a day", "webhook-secret-request")},
    answer=NewSecret,
    answer_examples={"day": example("The new secret", "webhook-secret")},
    parameters=(SITE, WEBHOOK),
    headers=(IF_MATCH,),
    answer_headers=ETAG,
    scope="admin",
    problems=(NOT_FOUND, PRECONDITION_FAILED, *BODY_PROBLEMS, *STORE_PROBLEMS),
)
TEST: Final = Operation(
    id="testWebhook",
    tag=_TAG,
    summary="Send a test message",
    description="Writes a message of the type `webhook.test` down; it is sent within seconds. Ask "
    "for the delivery to see what came of it.",
    answer=WebhookDelivery,
    answer_examples={"test": example("It waits to be sent", "webhook-delivery")},
    parameters=(SITE, WEBHOOK),
    answer_headers={"Location": "Where it is."},
    status=201,
    scope="admin",
    links=_READ,
    problems=(NOT_FOUND, CONFLICT, *STORE_PROBLEMS),
)
DELIVERIES: Final = Operation(
    id="listDeliveries",
    tag=_TAG,
    summary="List what was sent to a webhook",
    description="And what waits to be sent, the oldest first. A message is kept for 30 days.",
    answer=DeliveryList,
    answer_examples={"deliveries": example("One message", "webhook-deliveries")},
    parameters=(SITE, WEBHOOK),
    query=(
        QueryParameter(
            name="state",
            description="Only what is in this state.",
            schema={"type": "string", "enum": list(get_args(DeliveryState))},
            example="failed",
        ),
        *NUMBERED,
    ),
    headers=(IF_CHANGED,),
    answer_headers=OF_PAGE,
    scope="admin",
    problems=(NOT_FOUND, INVALID_PARAMETER, *STORE_PROBLEMS),
)
ONE: Final = Operation(
    id="getDelivery",
    tag=_TAG,
    summary="Get a message to a webhook",
    description="With its body.",
    answer=DeliveryDetails,
    answer_examples={"test": example("A test message", "webhook-delivery-details")},
    parameters=(SITE, WEBHOOK, DELIVERY),
    scope="admin",
    problems=(NOT_FOUND, *STORE_PROBLEMS),
)
RESEND: Final = Operation(
    id="resendDelivery",
    tag=_TAG,
    summary="Send a message once more",
    description="With the same id and body, and a new timestamp and signature; whatever became of "
    "it before. It is tried as long as a new one.",
    answer=WebhookDelivery,
    answer_examples={"test": example("It waits to be sent", "webhook-delivery")},
    parameters=(SITE, WEBHOOK, DELIVERY),
    scope="admin",
    problems=(NOT_FOUND, CONFLICT, *STORE_PROBLEMS),
)
