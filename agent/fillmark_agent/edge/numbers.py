"""Numbers in bytes: the integer and floating-point formats that devices use.

Names, sizes and codes follow the format types of the Bluetooth SIG's Assigned Numbers (characteristic presentation
format). IEEE 754 floats and the medical floats of IEEE 11073-20601 (a decimal mantissa and exponent with five special
values) are among them.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from fillmark_agent.edge.outcome import Fault, FaultKind, shown

Endian = Literal["little", "big"]


@dataclass(frozen=True, slots=True)
class Format:
    """One format.

    Attributes:
        code: of the presentation format descriptor.
        bits: that carry the number.
        kind: how the bits are read.
    """

    code: int
    bits: int
    kind: Literal["flag", "unsigned", "signed", "ieee754", "medical"]

    @property
    def size(self) -> int:
        """Bytes that it takes."""
        return -(-self.bits // 8)

    @property
    def scales(self) -> bool:
        """Whether the exponent of a presentation format applies to it."""
        return self.kind in {"unsigned", "signed"} and self.bits > 4


FORMATS: Mapping[str, Format] = {
    "boolean": Format(0x01, 1, "flag"),
    "uint2": Format(0x02, 2, "unsigned"), "uint4": Format(0x03, 4, "unsigned"),
    "uint8": Format(0x04, 8, "unsigned"), "uint12": Format(0x05, 12, "unsigned"),
    "uint16": Format(0x06, 16, "unsigned"), "uint24": Format(0x07, 24, "unsigned"),
    "uint32": Format(0x08, 32, "unsigned"), "uint48": Format(0x09, 48, "unsigned"),
    "uint64": Format(0x0A, 64, "unsigned"), "uint128": Format(0x0B, 128, "unsigned"),
    "sint8": Format(0x0C, 8, "signed"), "sint12": Format(0x0D, 12, "signed"),
    "sint16": Format(0x0E, 16, "signed"), "sint24": Format(0x0F, 24, "signed"),
    "sint32": Format(0x10, 32, "signed"), "sint48": Format(0x11, 48, "signed"),
    "sint64": Format(0x12, 64, "signed"), "sint128": Format(0x13, 128, "signed"),
    "float32": Format(0x14, 32, "ieee754"), "float64": Format(0x15, 64, "ieee754"),
    "medfloat16": Format(0x16, 16, "medical"), "medfloat32": Format(0x17, 32, "medical"),
}  # fmt: skip
BY_CODE: Mapping[int, str] = {found.code: name for name, found in FORMATS.items()}

# IEEE 11073-20601: bits of the mantissa; the five values about the most negative one are NaN, NRes, ±infinity and
# reserved.
_MANTISSA_BITS = {16: 12, 32: 24}


def read_number(payload: bytes, name: str, endian: Endian = "little") -> float | bool | Fault:
    """The number in exactly the bytes of its format.

    Returns:
        A finite number, a flag for "boolean", or a fault. No bytes raise.
    """
    form = FORMATS[name]
    if len(payload) != form.size:
        kind = FaultKind.TRUNCATED if len(payload) < form.size else FaultKind.OVERSIZED
        return Fault(kind, f"{name} takes {form.size} bytes, there are {len(payload)}: {shown(payload)}")
    if form.kind == "ieee754":
        return _ieee754(payload, form, endian)
    return _whole(int.from_bytes(payload, endian), form, payload)


def _whole(whole: int, form: Format, payload: bytes) -> float | bool | Fault:
    name = BY_CODE[form.code]
    if form.kind != "signed" and whole >> form.bits:
        return Fault(FaultKind.RESERVED, f"{name} has bits set above its own: {shown(payload)}")
    if form.kind == "flag":
        return bool(whole)
    if form.kind == "medical":
        return _medical(whole, form.bits)
    if form.kind == "signed":
        return _signed(whole, form, payload)
    return whole


def _ieee754(payload: bytes, form: Format, endian: Endian) -> float | Fault:
    sign = "<" if endian == "little" else ">"
    (value,) = struct.unpack(sign + ("f" if form.bits == 32 else "d"), payload)
    if math.isfinite(value):
        return float(value)
    return Fault(FaultKind.NOT_A_NUMBER, f"the float is {value}: {shown(payload)}")


def _signed(whole: int, form: Format, payload: bytes) -> int | Fault:
    value = _two_complement(whole & ((1 << form.bits) - 1), form.bits)
    above = whole >> form.bits
    if above not in {0, (1 << (8 * form.size - form.bits)) - 1}:  # twelve bits may or may not be sign-extended
        return Fault(FaultKind.RESERVED, f"there are bits set above the {form.bits} of the number: {shown(payload)}")
    return value


def _two_complement(whole: int, bits: int) -> int:
    return whole - (1 << bits) if whole >> (bits - 1) else whole


def _medical(whole: int, bits: int) -> float | Fault:
    width = _MANTISSA_BITS[bits]
    mantissa = _two_complement(whole & ((1 << width) - 1), width)
    exponent = _two_complement(whole >> width, bits - width)
    if abs(mantissa) >= (1 << (width - 1)) - 2 and exponent == 0:
        return Fault(FaultKind.NOT_A_NUMBER, f"the medical float 0x{whole:0{bits // 4}x} stands for no number")
    return to_power(mantissa, exponent)


def to_power(number: float, exponent: int) -> float:
    """The number · 10 ** exponent, rounded once where the number is whole."""
    return float(number / 10**-exponent) if exponent < 0 else float(number * 10**exponent)
