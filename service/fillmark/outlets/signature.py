"""The signature of a webhook, by the open specification "Standard Webhooks" (standardwebhooks.com), scheme v1.

What is signed is the message's id, the time of the attempt and the body, joined by points: a receiver that checks the
time cannot be made to take an old message again.
"""

from __future__ import annotations

import base64
import hashlib
import hmac


def signed_headers(key: bytes, message_id: str, unix_s: int, body: bytes) -> dict[str, str]:
    """The three headers that go with `body`.

    Args:
        key: shared with the receiver.
        message_id: the same for every attempt at this message.
        unix_s: time of this attempt, Unix seconds of the world's clock.
        body: exactly what is sent.
    """
    content = b".".join((message_id.encode(), str(unix_s).encode(), body))
    digest = base64.b64encode(hmac.new(key, content, hashlib.sha256).digest()).decode()
    return {"webhook-id": message_id, "webhook-timestamp": str(unix_s), "webhook-signature": f"v1,{digest}"}
