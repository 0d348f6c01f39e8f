"""All sensors of the bay: what each shows at a reading, as SenML records."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import TYPE_CHECKING

from fillmark.wire.senml import Record
from fillmark_sim.disturbance import Disturbances
from fillmark_sim.fluid import ICE_POINT_K
from fillmark_sim.radio import RadioModel
from fillmark_sim.scale import Probe, ScaleModel, clamp_probe, pressure_probe

if TYPE_CHECKING:
    from fillmark_sim.bay import Bay


class Devices:
    """Scale and probes of one bay."""

    def __init__(self, bay: Bay, rng: Callable[[str], random.Random]) -> None:
        self._bay = bay
        data = bay.scenario.probes
        self._scale = ScaleModel(bay.scenario.scale, rng("scale"))
        self._luck = rng("dropout")
        self._was_off = False
        circuit = bay.circuit
        self._pressures: tuple[tuple[str, Probe, Callable[[], float]], ...] = (
            ("low", pressure_probe(data, rng("low")), lambda: circuit.low.pressure_pa),
            ("high", pressure_probe(data, rng("high")), lambda: circuit.high.pressure_pa),
        )
        self._temperatures: tuple[tuple[str, Probe, Callable[[], float]], ...] = (
            ("suction", clamp_probe(data, rng("suction")), lambda: circuit.suction_k),
            ("liquid", clamp_probe(data, rng("liquid")), lambda: circuit.liquid_k),
            ("vent", clamp_probe(data, rng("vent")), lambda: circuit.vent_k),
            ("ambient", clamp_probe(data, rng("ambient")), lambda: circuit.ambient_k + data.sun_k),
            ("container", clamp_probe(data, rng("container")), lambda: bay.container_k),
        )

    def follow(self, dt_s: float) -> None:
        """Let the scale follow its load for one step."""
        self._scale.load(dt_s, self._bay.load_kg)

    def read(self, number: int, radio: RadioModel, disturbances: Disturbances) -> None:
        """Take the reading of this number and hand it to the radio, or lose or hold it."""
        time_s = self._bay.time_s
        sent: list[Record] = []
        for device, records in (("scale", self._read_scale(disturbances)), ("probe", self._read_probes(number))):
            if not records or disturbances.active("lost", time_s, device):
                continue
            if disturbances.active("backlog", time_s, device):
                radio.hold(tuple(records))
            else:
                sent.extend(records)
        if sent:
            radio.send(time_s, tuple(sent))

    def _read_scale(self, disturbances: Disturbances) -> list[Record]:
        bay = self._bay
        time_s = round(bay.time_s + disturbances.shift_s(bay.time_s), 3)
        off = disturbances.active("switch_off", bay.time_s)
        if self._was_off and not off:
            self._scale.rezero()
        self._was_off = off
        if off:
            return []
        mass_kg, stable = self._scale.read(bay.time_s)
        return [
            Record(f"{bay.name}/scale/mass", time_s, unit="kg", value=mass_kg),
            Record(f"{bay.name}/scale/stable", time_s, flag=stable),
        ]

    def _read_probes(self, number: int) -> list[Record]:
        bay, time_s, data = self._bay, self._bay.time_s, self._bay.scenario.probes
        records = []
        stamp = round(time_s, 3)
        if number % data.every_pressure == 0:
            for name, probe, true_pa in self._pressures:
                value = max(0.0, probe.read(time_s, true_pa()))
                records.append(Record(f"{bay.name}/{name}/pressure", stamp, unit="Pa", value=value))
        if number % data.every_temperature == 0:
            for name, probe, true_k in self._temperatures:
                value = probe.read(time_s, true_k() - ICE_POINT_K)
                records.append(Record(f"{bay.name}/{name}/temperature", stamp, unit="Cel", value=value))
        return [one for one in records if data.dropout == 0.0 or self._luck.random() >= data.dropout]
