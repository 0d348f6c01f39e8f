"""Report descriptors of weighing devices, put together from items (HID 1.11, section 6.2.2)."""

from __future__ import annotations

from collections.abc import Callable

import pytest

Describe = Callable[..., bytes]

PAGE = "05 8d"
STATUS = "09 70 a1 02 19 71 29 78 15 01 25 08 75 08 95 01 81 00 c0"
UNIT = "09 50 a1 02 19 51 29 5c 15 01 25 0c 75 08 95 01 81 00 c0"
SCALING = "09 41 15 81 25 7f 75 08 95 01 81 02"
WEIGHT = "09 40 15 00 27 ff ff 00 00 75 10 95 01 81 02"


@pytest.fixture
def describe() -> Describe:
    """A scale's data report: by default number 3 with status, unit, scaling and 16 bits of weight."""

    def make(
        *, number: int | None = 3, status: str = STATUS, unit: str = UNIT, scaling: str = SCALING,
        weight: str = WEIGHT, more: str = "",
    ) -> bytes:  # fmt: skip
        report = "" if number is None else f"85 {number:02x}"
        text = f"{PAGE} 09 01 a1 01 {report} 09 32 a1 02 {status} {unit} {scaling} {weight} c0 {more} c0"
        return bytes.fromhex(text.replace(" ", ""))

    return make
