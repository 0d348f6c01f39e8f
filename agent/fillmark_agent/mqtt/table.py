"""The table of an MQTT broker in the configuration."""

from __future__ import annotations

import re
from typing import Annotated, Literal, Self
from urllib.parse import urlsplit

from pydantic import AfterValidator, Field, SecretStr, model_validator

from fillmark.wire.broker import PORTS, BrokerAddress
from fillmark_agent.config_table import BAY_HINT, NAME, NAME_HINT, Table

_LOCAL = r"^[A-Za-z0-9][A-Za-z0-9_.-]*(/[A-Za-z0-9_.-]+)*$"
_FILTER = re.compile(r"(?:\+|[^+#/\0]*)(?:/(?:\+|[^+#/\0]*))*(?:/#)?|#")


def _broker(url: str) -> str:
    try:
        parts = urlsplit(url)
        port = 1 if parts.port is None else parts.port
    except ValueError as error:
        raise ValueError(f'"{url}" is no address of a broker ({error})') from error
    bare = not (parts.path.strip("/") or parts.query or parts.fragment or parts.username)
    if parts.scheme not in PORTS or not parts.hostname or not bare or port < 1:
        raise ValueError(f'"{url}" is no address of a broker')
    return url


def _topic(topic: str) -> str:
    """A topic filter of MQTT 3.1.1, section 4.7."""
    if not topic or len(topic.encode()) > 65535 or not _FILTER.fullmatch(topic) or topic.startswith("$share/"):
        raise ValueError(f'"{topic}" is no topic filter')
    return topic


class TopicTable(Table):
    """One topic filter, and the channels that its messages feed."""

    topic: Annotated[str, AfterValidator(_topic)] = Field(
        description='a topic filter, as "shop/scale" or "shop/probes/#"'
    )
    channel: str | None = Field(
        default=None, pattern=_LOCAL, description='the channel of every record, below the bay, as "suction/temperature"'
    )
    prefix: str = Field(
        default="",
        pattern=rf"^$|{_LOCAL[:-1]}/?$",
        description='what goes before the names of the records, below the bay, as "scale/"',
    )

    @model_validator(mode="after")
    def _names_once(self) -> Self:
        if self.channel is not None and self.prefix:
            raise ValueError("channel and prefix exclude each other")
        return self


class MqttTable(Table, BrokerAddress):
    """Readings that somebody else publishes on a broker, as SenML."""

    driver: Literal["mqtt"]
    name: str = Field(pattern=NAME, description=NAME_HINT)
    bay: str = Field(default="bay-1", pattern=NAME, description=BAY_HINT)
    broker: Annotated[str, AfterValidator(_broker)] = Field(
        default="mqtt://127.0.0.1", description='the broker, as "mqtt://127.0.0.1:1883" or "mqtts://broker.example"'
    )
    username: str | None = Field(default=None, description="the user name at the broker")
    password: SecretStr | None = Field(default=None, description="the password at the broker")
    interval_s: float | None = Field(
        default=None, gt=0.0, description="seconds between two messages; leave it out when there is no rhythm"
    )
    topics: tuple[TopicTable, ...] = Field(
        min_length=1, description="at least one [[devices.topics]] with a topic and its channel"
    )
