"""Which device is meant, and UUIDs short and long."""

from __future__ import annotations

import bleak.uuids
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark_agent.bluetooth.identity import Target, full_uuid, is_address, sig_number

ADDRESS, OTHER = "F0:F1:F2:F3:F4:F5", "F0:F1:F2:F3:F4:F6"
MAC_OS = "0B4A5D2C-9A3E-4E0B-8C43-6B2E6A1F7D10"


@given(st.integers(0, 0xFFFF))
def test_a_short_uuid_is_written_out_as_bleak_does(number: int) -> None:
    assert full_uuid(f"{number:04x}") == full_uuid(f"0x{number:04X}") == bleak.uuids.normalize_uuid_16(number)
    assert sig_number(full_uuid(f"{number:04x}")) == number


@pytest.mark.parametrize("text", ["", "2a9", "xyzw", "2a9d2a9d", "8d6f0001"])
def test_what_is_no_uuid_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is no UUID"):
        full_uuid(text)


def test_a_long_uuid_is_no_number_of_the_sig() -> None:
    assert sig_number(full_uuid("8D6F0002-5A4E-4C52-9F3B-0F2F6F1C7A10")) is None


@pytest.mark.parametrize(
    ("target", "identifier", "name", "matches"),
    [
        (Target(ADDRESS, None), ADDRESS.lower(), None, True),
        (Target(ADDRESS, "S"), OTHER, "S", False),
        (Target(ADDRESS, "S"), MAC_OS, "S", True),
        (Target(ADDRESS, None), MAC_OS, "S", False),
        (Target(MAC_OS, "S"), ADDRESS, "S", True),
        (Target(MAC_OS.lower(), None), MAC_OS, None, True),
        (Target(None, "S"), OTHER, "S", True),
        (Target(None, "S"), OTHER, None, False),
    ],
)
def test_an_address_decides_and_a_name_serves_where_addresses_are_of_another_kind(
    target: Target, identifier: str, name: str | None, matches: bool
) -> None:
    assert target.matches(identifier, name) is matches


def test_the_kinds_of_identifiers_are_told_apart() -> None:
    assert is_address(ADDRESS)
    assert not is_address(MAC_OS)
