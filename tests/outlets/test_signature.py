"""The signature of a webhook, against the library of the people who wrote Standard Webhooks."""

from __future__ import annotations

import base64
import time

import pytest
from pydantic import ValidationError
from standardwebhooks import Webhook, WebhookVerificationError

from fillmark.outlets.settings import MqttSettings, WebhookSettings, secret_bytes
from fillmark.outlets.signature import signed_headers

KEY = bytes(range(32))
SECRET = "whsec_" + base64.b64encode(KEY).decode()


def test_the_published_vector() -> None:
    """The reference vector of Standard Webhooks, as the test suites of its libraries have it."""
    key = secret_bytes("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw")
    headers = signed_headers(key, "msg_p5jXN8AQM9LWM0D4loKWxJek", 1614265330, b'{"test": 2432232314}')
    assert headers["webhook-signature"] == "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_another_library_takes_it_and_notices_every_change() -> None:
    body = '{"type":"stop_point.moved","text":"Schließen bei 495 g"}'.encode()
    now = int(time.time())
    headers = signed_headers(KEY, "msg_1", now, body)
    receiver = Webhook(SECRET)
    assert receiver.verify(body, headers)["text"] == "Schließen bei 495 g"
    stale = signed_headers(KEY, "msg_1", now - 3600, body)
    changed = (
        (body + b" ", headers),
        (body, {**headers, "webhook-id": "msg_2"}),
        (body, {**headers, "webhook-timestamp": str(now + 1)}),
        (body, signed_headers(bytes(32), "msg_1", now, body)),
        (body, stale),
    )
    for told, given in changed:
        with pytest.raises(WebhookVerificationError):
            receiver.verify(told, given)


@pytest.mark.parametrize("secret", ["", "whsec_", "whsec_!!!", "secret", base64.b64encode(bytes(23)).decode()])
def test_a_weak_secret_is_refused_and_not_shown(secret: str) -> None:
    with pytest.raises(ValidationError, match="24 to 64 random bytes") as caught:
        WebhookSettings.model_validate({"url": "https://shop.example/hook", "secret": secret})
    assert not secret or f"'{secret}'" not in str(caught.value)


@pytest.mark.parametrize("url", ["", "shop.example", "ftp://shop.example", "https://", "https://u:p@shop.example"])
def test_an_address_that_is_none_is_refused(url: str) -> None:
    with pytest.raises(ValidationError, match="is no address"):
        WebhookSettings.model_validate({"url": url, "secret": SECRET})


@pytest.mark.parametrize("prefix", ["", "a/#", "+", "/a", "a/", "$SYS"])
def test_a_prefix_that_begins_no_topic_is_refused(prefix: str) -> None:
    with pytest.raises(ValidationError, match="cannot begin a topic"):
        MqttSettings.model_validate({"broker": "mqtt://127.0.0.1", "prefix": prefix})
