"""What can be set about the service. The defaults suit one technician on one machine."""

from __future__ import annotations

from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, SecretStr

from fillmark.engine.timeline import CHUNK_EVENTS, RECENT_CHUNKS
from fillmark.outlets.settings import MqttSettings, WebhookSettings


class Settings(BaseModel):
    """Settings of the service, frozen."""

    model_config = ConfigDict(frozen=True, extra="forbid", hide_input_in_errors=True)

    database: Path | None = Field(default=None, description="File of the log; none: it is kept in memory only.")
    token: SecretStr | None = Field(default=None, description="Bearer token that writes must carry; none: not asked.")
    hosts: tuple[str, ...] = Field(
        default=(), description="Names under which the service is reached, besides loopback names and IP addresses."
    )
    certificate: Path | None = Field(default=None, description="PEM file of the certificate chain; none: plain http.")
    certificate_key: Path | None = Field(default=None, description="PEM file of its key; none: it is in the same file.")
    write_origins: tuple[str, ...] = Field(
        default=(), description="Origins of pages elsewhere that may write, as http://display.local:8080."
    )
    read_origins: tuple[str, ...] = Field(
        default=("*",), description="Origins of pages elsewhere that may read; * for all."
    )
    body_limit_bytes: int = Field(default=1024 * 1024, gt=0, description="Largest accepted body of a request.")
    future_limit_s: float = Field(
        default=10.0, ge=0.0, description="How far a reading may be ahead of the service's clock, seconds."
    )
    pending_entries: int = Field(
        default=10_000, gt=0, description="Entries that may wait for the disk before more are refused."
    )
    pending_bytes: int = Field(
        default=64 * 1024 * 1024, gt=0, description="Bytes that may wait for the disk before more are refused."
    )
    heartbeat_s: float = Field(default=10.0, gt=0.0, description="Longest silence on a stream of events, seconds.")
    times_in_memory: int = Field(
        default=20_000,
        gt=0,
        description="Times of readings kept in memory for each channel; older ones are looked up.",
    )
    recent_events: int = Field(
        default=RECENT_CHUNKS * CHUNK_EVENTS,
        gt=0,
        description="Events of a job kept in memory for what comes late; older ones are read from the log.",
    )
    webhooks: tuple[WebhookSettings, ...] = Field(
        default=(), description="Who is told of every change of a stop point, by a signed POST."
    )
    mqtt: MqttSettings | None = Field(default=None, description="The broker to publish to; none: nothing is published.")
    warm_up: bool = Field(default=True, description="Load the refrigerants' properties at start and not at first use.")
