"""Which device is meant, on a system that shows addresses and on one that shows identifiers of its own instead."""

from __future__ import annotations

import re
import uuid
from dataclasses import dataclass

_ADDRESS = re.compile(r"(?:[0-9A-F]{2}:){5}[0-9A-F]{2}")
_SHORT = re.compile(r"[0-9a-f]{4}")
_BASE = "0000{}-0000-1000-8000-00805f9b34fb"


def is_address(identifier: str) -> bool:
    """Whether it is a Bluetooth address, as F0:F1:F2:F3:F4:F5. macOS shows a UUID of its own making instead."""
    return _ADDRESS.fullmatch(identifier.upper()) is not None


def full_uuid(text: str) -> str:
    """A service's or characteristic's UUID in full: "2a9d" is one of the Bluetooth SIG's.

    Raises:
        ValueError: neither four hexadecimal digits nor a UUID.
    """
    short = text.lower().removeprefix("0x")
    if _SHORT.fullmatch(short):
        return _BASE.format(short)
    try:
        return str(uuid.UUID(text))
    except ValueError:
        raise ValueError(f'"{text}" is no UUID') from None


def sig_number(full: str) -> int | None:
    """The 16-bit number of one of the Bluetooth SIG's UUIDs, None for others."""
    return int(full[4:8], 16) if full == _BASE.format(full[4:8]) else None


@dataclass(frozen=True, slots=True)
class Target:
    """The device that is meant: by address, by the name it advertises, or by both.

    An address decides where the system shows addresses of its kind. A configuration that came from a system of the
    other kind falls back to the name.
    """

    address: str | None
    local_name: str | None

    def matches(self, identifier: str, local_name: str | None) -> bool:
        """Whether this is the device."""
        if self.address is not None:
            if identifier.casefold() == self.address.casefold():
                return True
            if is_address(identifier) == is_address(self.address):
                return False
        return self.local_name is not None and local_name == self.local_name

    def unseen(self, identifiers: set[str]) -> str:
        """The sentence for not finding it among what was heard."""
        wanted = self.address or f'"{self.local_name}"'
        foreign = [one for one in identifiers if self.address and is_address(one) != is_address(self.address)]
        if foreign and self.local_name is None:
            return f"{wanted} is an identifier of another system; bind the device again here, or give its local_name"
        return f"{wanted} does not advertise now"
