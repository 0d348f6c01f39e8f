"""SenML packs, RFC 8428: decode and resolve what arrives, encode what leaves.

* Base fields apply to the record that carries them and to all that follow (RFC 8428 section 4.1).
* Resolved records carry their full name and an absolute time in Unix seconds (section 4.6).
* A time below 2**28 is relative to now (section 4.5.3), so a sensor without a clock can take part.
* Numbers are finite. JSON's extensions NaN and Infinity are refused.
* A label ending in an underscore that we do not know must be refused (section 4.4); other unknown labels are
  ignored.
* Version 10 and its forerunners are understood, and version 26: 10 with secondary units such as hPa (RFC 9100).
"""

from __future__ import annotations

import json
import math
import re
import reprlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NoReturn

MEDIA_TYPE = "application/senml+json"
VERSION = 10
SECONDARY_UNITS_VERSION = 26
RELATIVE_BELOW_S = 2.0**28
LATEST_TIME_S = 2.0**40

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*")
_BASE_TYPES: Mapping[str, type | tuple[type, ...]] = {
    "bn": str, "bt": (int, float), "bu": str, "bv": (int, float), "bs": (int, float), "bver": int,
}  # fmt: skip
_TYPES: Mapping[str, type | tuple[type, ...]] = {
    "n": str, "u": str, "v": (int, float), "vs": str, "vb": bool, "vd": str, "s": (int, float),
    "t": (int, float), "ut": (int, float),
}  # fmt: skip
_VALUES = ("v", "vs", "vb", "vd")
_SHOWN = reprlib.Repr()
_SHOWN.maxstring = _SHOWN.maxother = 80


class SenmlError(ValueError):
    """A pack that cannot be read. `field` is a JSON pointer into the pack, `accepted` says what would do."""

    def __init__(self, field: str, problem: str, accepted: str) -> None:
        super().__init__(f"{field or 'pack'}: {problem}; {accepted}")
        self.field = field
        self.problem = problem
        self.accepted = accepted


def pointer_to(parent: str, name: object) -> str:
    """The JSON pointer of a member of `parent` (RFC 6901 section 3: ~ and / are escaped)."""
    return f"{parent}/{str(name).replace('~', '~0').replace('/', '~1')}"


@dataclass(frozen=True, slots=True)
class Record:
    """One resolved SenML record: exactly one of the values is set, or only `sum` is.

    Attributes:
        name: full name, base name included.
        time_s: Unix seconds.
        unit: from the IANA SenML units registry, None when absent.
        value: `v`, a finite number in `unit`.
        text: `vs`.
        flag: `vb`.
        data: `vd`, base64url text as it came.
        sum: `s`, integrated value.
        update_time_s: `ut`, seconds until the next reading is due.
    """

    name: str
    time_s: float
    unit: str | None = None
    value: float | None = None
    text: str | None = None
    flag: bool | None = None
    data: str | None = None
    sum: float | None = None
    update_time_s: float | None = None


@dataclass(slots=True)
class _Base:
    name: str = ""
    time_s: float = 0.0
    unit: str | None = None
    value: float | None = None
    sum: float | None = None


def decode(text: str | bytes, *, now_s: float) -> tuple[Record, ...]:
    """Parse and resolve one pack.

    Args:
        text: the JSON of one pack.
        now_s: Unix seconds, against which relative times are resolved.

    Raises:
        SenmlError: the text is not JSON, not a pack, or a record breaks a rule of RFC 8428.
    """
    try:
        raw = json.loads(text, parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as error:
        if isinstance(error, SenmlError):
            raise
        raise SenmlError("", f"not JSON ({error})", "send a JSON array of SenML records") from error
    return resolve(raw, now_s=now_s)


def resolve(raw: object, *, now_s: float) -> tuple[Record, ...]:
    """Resolve a pack already parsed from JSON. See `decode`."""
    if not isinstance(raw, list) or not raw:
        raise SenmlError("", "a pack is a JSON array with at least one record", "send [{...}, ...]")
    base = _Base()
    records = []
    for index, item in enumerate(raw):
        pointer = f"/{index}"
        if not isinstance(item, dict):
            raise SenmlError(pointer, "a record is a JSON object", 'send {"n": ..., "v": ...}')
        _check_types(item, pointer)
        _take_base(base, item, pointer)
        record = _resolve_one(base, item, pointer, now_s)
        if record is not None:
            records.append(record)
    return tuple(records)


def encode(records: Sequence[Record]) -> str:
    """Write resolved records as one compact pack. `decode` gives back the same records."""
    return json.dumps(plain(records), separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def plain(records: Iterable[Record]) -> list[dict[str, str | float | bool]]:
    """Resolved records as the JSON values that `encode` writes."""
    return [_plain(record) for record in records]


def encode_lines(packs: Iterable[Sequence[Record]]) -> Iterable[str]:
    """Write packs as a recorded stream: one pack a line."""
    for pack in packs:
        yield encode(pack) + "\n"


def _plain(record: Record) -> dict[str, str | float | bool]:
    pairs = (
        ("n", record.name),
        ("u", record.unit),
        ("t", record.time_s),
        ("v", record.value),
        ("vs", record.text),
        ("vb", record.flag),
        ("vd", record.data),
        ("s", record.sum),
        ("ut", record.update_time_s),
    )
    return {label: value for label, value in pairs if value is not None}


def _refuse_constant(name: str) -> NoReturn:
    raise SenmlError("", f"{name} is not a number in JSON", "leave the record out when there is no value")


def _check_types(item: Mapping[str, object], pointer: str) -> None:
    for label, value in item.items():
        expected = _BASE_TYPES.get(label) or _TYPES.get(label)
        if expected is None:
            if label.endswith("_"):
                raise SenmlError(pointer_to(pointer, label), "unknown label that must be understood", "leave it out")
            continue
        wrong_bool = isinstance(value, bool) and expected is not bool
        if wrong_bool or not isinstance(value, expected):
            wanted = (
                "a number"
                if isinstance(expected, tuple)
                else {str: "a string", bool: "true or false", int: "an integer"}[expected]
            )
            raise SenmlError(f"{pointer}/{label}", f"{_SHOWN.repr(value)} has the wrong type", f"send {wanted}")
        if isinstance(value, (int, float)) and not _finite(value):
            raise SenmlError(f"{pointer}/{label}", "the number is not finite", "send a finite number")
        if isinstance(value, str) and not _encodable(value):
            raise SenmlError(f"{pointer}/{label}", "half of a character that takes two", "send whole characters")


def _encodable(text: str) -> bool:
    try:
        return text.isascii() or bool(text.encode())
    except UnicodeEncodeError:
        return False


def _finite(value: float) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:
        return False


def _take_base(base: _Base, item: Mapping[str, object], pointer: str) -> None:
    version = item.get("bver", VERSION)
    if not (isinstance(version, int) and (0 < version <= VERSION or version == SECONDARY_UNITS_VERSION)):
        raise SenmlError(
            f"{pointer}/bver",
            f"SenML version {version} is not known",
            f"send version {VERSION} or leave bver out",
        )
    base.name = _text(item, "bn", base.name) or ""
    base.time_s = _number(item, "bt", base.time_s) or 0.0
    base.unit = _text(item, "bu", base.unit)
    base.value = _number(item, "bv", base.value)
    base.sum = _number(item, "bs", base.sum)


def _resolve_one(base: _Base, item: Mapping[str, object], pointer: str, now_s: float) -> Record | None:
    present = [label for label in _VALUES if label in item]
    if len(present) > 1:
        raise SenmlError(
            f"{pointer}/{present[1]}", "a record carries one value", f"send only one of {', '.join(_VALUES)}"
        )
    value = _number(item, "v", None)
    if base.value is not None and (value is not None or not present):
        value = _added(base.value, value, f"{pointer}/v")
    total = _number(item, "s", None)
    if base.sum is not None:
        total = _added(base.sum, total, f"{pointer}/s")
    if value is None and not present and total is None:
        if set(item) <= set(_BASE_TYPES):
            return None
        raise SenmlError(pointer, "the record has no value", f"add one of {', '.join(_VALUES)} or s")
    return Record(
        name=_full_name(base, item, pointer),
        time_s=_absolute_time(base, item, pointer, now_s),
        unit=_text(item, "u", base.unit) if value is not None or total is not None else None,
        value=value,
        text=_text(item, "vs", None),
        flag=_flag(item),
        data=_text(item, "vd", None),
        sum=total,
        update_time_s=_number(item, "ut", None),
    )


def _added(base: float, own: float | None, pointer: str) -> float:
    total = base + (own or 0.0)
    if not math.isfinite(total):
        raise SenmlError(pointer, "base and value together are not finite", "send a finite number")
    return total


def _full_name(base: _Base, item: Mapping[str, object], pointer: str) -> str:
    name = base.name + (_text(item, "n", None) or "")
    if not _NAME.fullmatch(name):
        raise SenmlError(
            f"{pointer}/n", f"the name {_SHOWN.repr(name)} is empty or has a character that SenML does not allow",
            "use letters, digits and - : . / _ and begin with a letter or digit",
        )  # fmt: skip
    return name


def _absolute_time(base: _Base, item: Mapping[str, object], pointer: str, now_s: float) -> float:
    time_s = base.time_s + (_number(item, "t", None) or 0.0)
    if time_s < RELATIVE_BELOW_S:
        time_s += now_s
    if not 0.0 <= time_s < LATEST_TIME_S:
        raise SenmlError(f"{pointer}/t", f"{time_s!r} is no time of this era", "send Unix seconds, not milliseconds")
    return time_s


def _text(item: Mapping[str, object], label: str, default: str | None) -> str | None:
    value = item.get(label, default)
    return value if isinstance(value, str) else default


def _number(item: Mapping[str, object], label: str, default: float | None) -> float | None:
    value = item.get(label, default)
    return float(value) if isinstance(value, (int, float)) else default


def _flag(item: Mapping[str, object]) -> bool | None:
    value = item.get("vb")
    return value if isinstance(value, bool) else None
