"""Channels: `bay/device/quantity`, what each quantity means, its unit and what a sensor can possibly say.

A reading whose unit is registered but not ours (g, K, hPa) is converted here, once. A reading that no working
sensor can produce is refused here, so that nothing behind has to doubt a number's unit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from fillmark.wire.senml import Record, SenmlError


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of quantity.

    Attributes:
        unit: the unit inside, from the IANA SenML registry; None for a flag.
        factors: other accepted units, each with (factor, offset) into `unit`.
        least: smallest value a sensor can show, in `unit`.
        most: largest value, in `unit`.
    """

    unit: str | None
    factors: Mapping[str, tuple[float, float]]
    least: float = 0.0
    most: float = 0.0


MASS = Kind("kg", {"g": (1e-3, 0.0)}, least=-0.05, most=2000.0)
PRESSURE = Kind("Pa", {"hPa": (1e2, 0.0)}, least=-110e3, most=40e6)
TEMPERATURE = Kind("Cel", {"K": (1.0, -273.15)}, least=-100.0, most=300.0)
HUMIDITY = Kind("%RH", {}, least=0.0, most=110.0)
FLAG = Kind(None, {})

QUANTITIES: Mapping[str, Kind] = {
    "mass": MASS, "stable": FLAG, "pressure": PRESSURE, "temperature": TEMPERATURE, "humidity": HUMIDITY,
}  # fmt: skip
ACTION = "action"


@dataclass(frozen=True, slots=True)
class Channel:
    """A channel's name in its parts. `device` is empty for `bay/action`."""

    bay: str
    device: str
    quantity: str

    @property
    def local(self) -> str:
        """The name within the bay, for example "scale/mass"."""
        return f"{self.device}/{self.quantity}" if self.device else self.quantity


def parse(name: str, field: str = "") -> Channel:
    """Split a channel's name: first segment the bay, last the quantity, between them the device.

    Raises:
        SenmlError: the name has no bay, or a part of it is empty.
    """
    bay, _, rest = name.partition("/")
    device, _, quantity = rest.rpartition("/")
    if not bay or not quantity or "//" in name:
        raise SenmlError(
            f"{field}/n", f"the name {name!r} is not a channel", "name it bay/device/quantity, as bay-1/scale/mass"
        )
    return Channel(bay, device, quantity)


def normalise(record: Record, field: str = "") -> Record:
    """Check a reading against its quantity and convert it to the unit inside.

    A quantity that the engine does not know passes unchanged.

    Raises:
        SenmlError: no value of the right type, a unit of another kind, or a value no sensor can show.
    """
    channel = parse(record.name, field)
    kind = QUANTITIES.get(channel.quantity)
    if kind is None:
        return record
    if kind.unit is None:
        if record.flag is None:
            raise SenmlError(f"{field}/vb", f"{record.name} is a flag", 'send "vb": true or false')
        return record
    if record.value is None:
        raise SenmlError(f"{field}/v", f"{record.name} needs a number", f'send "v" in {kind.unit}')
    factor, offset = _conversion(kind, record, field)
    value = record.value * factor + offset
    if not kind.least <= value <= kind.most:
        raise SenmlError(
            f"{field}/v", f"{record.name} = {value:g} {kind.unit} is outside what a sensor can show",
            f"send {kind.least:g} to {kind.most:g} {kind.unit}, or check the sensor's unit and zero",
        )  # fmt: skip
    if value == record.value and record.unit == kind.unit:
        return record
    return replace(record, value=value, unit=kind.unit)


def _conversion(kind: Kind, record: Record, field: str) -> tuple[float, float]:
    if record.unit == kind.unit:
        return 1.0, 0.0
    if record.unit is not None and record.unit in kind.factors:
        return kind.factors[record.unit]
    accepted = ", ".join(str(unit) for unit in (kind.unit, *kind.factors))
    found = "no unit" if record.unit is None else f"the unit {record.unit!r}"
    raise SenmlError(f"{field}/u", f"{record.name} has {found}", f"send one of {accepted}")
