"""The address of an MQTT broker, taken apart: the agent reads from one, and the service publishes to one."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import urlsplit

PORTS = {"mqtt": 1883, "mqtts": 8883}
"""Registered ports by scheme: IANA service names mqtt and secure-mqtt."""


class BrokerAddress:
    """What a `broker` such as mqtt://127.0.0.1:1883 says; for a settings model that has checked it."""

    if TYPE_CHECKING:
        broker: str

    @property
    def host(self) -> str:
        """Name or address of the broker."""
        return urlsplit(self.broker).hostname or ""

    @property
    def port(self) -> int:
        """Its port: that of the address, or the registered one."""
        parts = urlsplit(self.broker)
        return parts.port or PORTS[parts.scheme]

    @property
    def encrypted(self) -> bool:
        """Whether the connection is TLS with a certificate that the system trusts."""
        return self.broker.startswith("mqtts:")
