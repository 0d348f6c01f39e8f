"""What can be set about outlets."""

from __future__ import annotations

import base64
import binascii
from typing import Annotated
from urllib.parse import urlsplit

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, SecretStr

from fillmark.wire.broker import PORTS, BrokerAddress

SECRET_PREFIX = "whsec_"  # noqa: S105 - the mark of a secret, not one
LEAST_SECRET_BYTES, MOST_SECRET_BYTES = 24, 64


def _address(schemes: tuple[str, ...], url: str) -> str:
    try:
        parts = urlsplit(url)
        port = 1 if parts.port is None else parts.port
    except ValueError as error:
        raise ValueError(f"{url!r} is no address ({error})") from error
    if parts.scheme not in schemes or not parts.hostname or port < 1 or parts.username or parts.fragment:
        raise ValueError(f"{url!r} is no address; give one such as {schemes[0]}://host:port")
    return url


def _hook(url: str) -> str:
    return _address(("https", "http"), url)


def _broker(url: str) -> str:
    return _address(tuple(PORTS), url)


def secret_bytes(text: str) -> bytes:
    """The key in a secret such as "whsec_…", base64 of 24 to 64 bytes (Standard Webhooks, section on signatures).

    Raises:
        ValueError: it is none; the sentence does not show it.
    """
    try:
        key = base64.b64decode(text.removeprefix(SECRET_PREFIX), validate=True)
    except (binascii.Error, ValueError):
        key = b""
    if not LEAST_SECRET_BYTES <= len(key) <= MOST_SECRET_BYTES:
        raise ValueError("a webhook's secret is whsec_ and 24 to 64 random bytes in base64")
    return key


def _secret(secret: SecretStr) -> SecretStr:
    secret_bytes(secret.get_secret_value())
    return secret


def _prefix(prefix: str) -> str:
    if not prefix or set(prefix) & set("+#\0") or prefix.startswith(("/", "$")) or prefix.endswith("/"):
        raise ValueError(f"{prefix!r} cannot begin a topic; give one such as fillmark or shop/fillmark")
    return prefix


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", hide_input_in_errors=True)


class WebhookSettings(_Frozen):
    """One receiver of stop points."""

    url: Annotated[str, AfterValidator(_hook)] = Field(description="Where to POST, as https://shop.example/fillmark.")
    secret: Annotated[SecretStr, AfterValidator(_secret)] = Field(description="Key of the signature, whsec_….")
    give_up_s: float = Field(
        default=86_400.0, gt=0.0, description="Age at which an undelivered message is given up, seconds."
    )


class MqttSettings(_Frozen, BrokerAddress):
    """The broker to publish to."""

    broker: Annotated[str, AfterValidator(_broker)] = Field(description="The broker, as mqtt://127.0.0.1:1883.")
    prefix: Annotated[str, AfterValidator(_prefix)] = Field(default="fillmark", description="Beginning of all topics.")
    username: str | None = Field(default=None, description="User name at the broker.")
    password: SecretStr | None = Field(default=None, description="Password at the broker.")
    least_s: float = Field(default=0.25, ge=0.0, description="Shortest time between two glances of a bay, seconds.")
    heartbeat_s: float = Field(default=10.0, gt=0.0, description="Longest time between two glances of a bay, seconds.")
