"""How a record says numbers, times and what is not known."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from fillmark.engine.quantity import plus_minus

UNKNOWN = "not known"
NOT_ENTERED = "not entered"
K = 2.0
"""Coverage factor of every ± in the record (JCGM 100:2008 section 6.3: about 95 % where the doubt is normal)."""

PARTICULARS = {
    "technician": "Technician",
    "technician_certificate": "Technician's certificate",
    "company": "Company",
    "company_address": "Company's address",
    "company_certificate": "Company's certificate",
    "operator": "Operator of the equipment",
    "equipment": "Equipment",
    "equipment_id": "Equipment's number or plate",
    "equipment_reading": "Hours or distance",
    "origin": "Refrigerant charged is",
    "origin_facility": "From (facility, certificate)",
    "disposal": "What became of recovered refrigerant",
}
"""Every field of the action `particulars` with its words."""

CHANNELS = {
    "low/pressure": "low side",
    "high/pressure": "high side",
    "vacuum/pressure": "vacuum gauge",
    "ambient/temperature": "ambient",
    "vent/temperature": "vent",
    "suction/temperature": "suction line",
    "liquid/temperature": "liquid line",
    "charged": "in the circuit",
    "recovered": "recovered",
}


def mass(kg: float | None, u_kg: float | None = None) -> str:
    """A mass for people: grams below 10 kg; with an uncertainty as ± (k = 2), otherwise to 0.1 g."""
    if kg is None:
        return UNKNOWN
    factor, unit, digits = (1e3, "g", 1) if abs(kg) < 10.0 else (1.0, "kg", 3)
    if u_kg:
        return f"{plus_minus(kg * factor, K * u_kg * factor)} {unit}"
    return f"{round(kg, 6) * factor + 0.0:.{digits}f} {unit}"


def share(value: float | None) -> str:
    """A probability; certainty is not claimed."""
    if value is None:
        return UNKNOWN
    return "over 99.9 %" if value > 0.999 else "under 0.1 %" if value < 0.001 else f"{value:.1%}".replace("%", " %")


def moment(unix_s: float | None) -> str:
    """Date and time in UTC, to the second."""
    return UNKNOWN if unix_s is None else datetime.fromtimestamp(int(unix_s), UTC).strftime("%Y-%m-%d %H:%M:%S UTC")


def day(unix_s: float) -> str:
    """The date in UTC."""
    return datetime.fromtimestamp(int(unix_s), UTC).strftime("%Y-%m-%d")


def clock(unix_s: float | None) -> str:
    """The time of day in UTC; a dash where there is none."""
    return "–" if unix_s is None else datetime.fromtimestamp(int(unix_s), UTC).strftime("%H:%M:%S")


def lasting(seconds: float | None) -> str:
    """A duration."""
    if seconds is None:
        return UNKNOWN
    minutes, rest = divmod(round(seconds), 60)
    return (
        f"{rest} s"
        if minutes == 0
        else f"{minutes} min {rest} s"
        if minutes < 60
        else f"{minutes // 60} h {minutes % 60} min"
    )


def plain(value: object) -> str:
    """Any value of a table of numbers."""
    if value is None:
        return UNKNOWN
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.6g}" if isinstance(value, float) else named(value) if isinstance(value, str) else str(value)


_UNITS = {"pa": "Pa", "k": "K", "kg": "kg", "s": "s", "m3": "m³", "pa_s": "Pa/s", "pa_m3_s": "Pa·m³/s", "m3_s": "m³/s",
          "per_min": "1/min"}  # fmt: skip


def quantity(name: str) -> str:
    """The name of a number with its unit in brackets: `fall_u_pa` is "fall, u (Pa)"."""
    doubt = "_u_" in f"_{name}_"
    stem = name.removesuffix("_u").replace("_u_", "_")
    for size in (3, 2, 1):
        parts = stem.split("_")
        unit = _UNITS.get("_".join(parts[-size:])) if len(parts) > size else None
        if unit is not None:
            return f"{named('_'.join(parts[:-size]))}{', u' if doubt else ''} ({unit})"
    return named(stem) + (", u" if doubt else "")


def named(name: str) -> str:
    """An identifier as words."""
    return name.replace("_", " ").replace("-", " ")


def entered(value: Any) -> str:  # noqa: ANN401 - whatever was entered
    """A field that the user may have filled in."""
    return NOT_ENTERED if value is None else str(value)
