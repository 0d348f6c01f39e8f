"""What a visit's devices show outside charging: scale, service ports, clamps, vacuum gauge."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from fillmark.wire.senml import Record
from fillmark_sim.fluid import ICE_POINT_K
from fillmark_sim.radio import RadioModel
from fillmark_sim.scale import ScaleModel, clamp_probe, pressure_probe
from fillmark_sim.vacuum.gauge import Gauge

if TYPE_CHECKING:
    from fillmark_sim.visit_bench import VisitBench

RECOVERY_PROBES_S = 4.0


class VisitDevices:
    """The devices of one visit."""

    def __init__(self, visit: VisitBench) -> None:
        self._visit = visit
        data, rng = visit.scenario, visit.rng
        self._scale = ScaleModel(data.scale, rng("scale"))
        self._gauge = Gauge(data.gauge, rng("gauge"))
        self._start_s = visit.time_s
        self._ports = {name: pressure_probe(data.probes, rng(name)) for name in ("low", "high")}
        self._clamps = {name: clamp_probe(data.probes, rng(name)) for name in ("suction", "ambient", "container")}
        self._due: dict[str, float] = {}

    def follow(self, dt_s: float) -> None:
        """Let the scale follow its load for one step."""
        visit = self._visit
        rest = visit.scenario.scale.rest_kg
        self._scale.load(dt_s, rest + (0.0 if visit.on_pan is None else visit.on_pan.gross_kg))

    def read(self, radio: RadioModel) -> None:
        """Take the readings that are due and hand them to the radio."""
        visit, data = self._visit, self._visit.scenario
        records: list[Record] = []
        if visit.recovering is not None:
            self._when("scale", 1.0 / data.scale.rate_hz, records, self._read_scale)
            self._when("ports", RECOVERY_PROBES_S, records, self._read_ports)
            self._when("clamps", 4.0 * RECOVERY_PROBES_S, records, self._read_clamps)
        elif visit.dry is not None:
            if visit.gauge_on:
                self._when("gauge", data.vacuum_every_s, records, self._read_gauge)
            self._when("ports", data.probe_every_s, records, self._read_ports)
            self._when("clamps", data.probe_every_s, records, self._read_clamps)
        if records:
            radio.send(visit.time_s, tuple(records))

    def _when(self, what: str, every_s: float, records: list[Record], read: Callable[[], list[Record]]) -> None:
        if self._visit.time_s >= self._due.get(what, 0.0) - 1e-9:
            self._due[what] = self._visit.time_s + every_s
            records.extend(read())

    def _read_scale(self) -> list[Record]:
        visit, stamp = self._visit, round(self._visit.time_s, 3)
        mass_kg, stable = self._scale.read(visit.time_s)
        return [
            Record(f"{visit.name}/scale/mass", stamp, unit="kg", value=mass_kg),
            Record(f"{visit.name}/scale/stable", stamp, flag=stable),
        ]

    def _read_ports(self) -> list[Record]:
        visit, stamp = self._visit, round(self._visit.time_s, 3)
        plant = visit.recovering or visit.dry
        true_pa = visit.scenario.atmosphere_pa if plant is None else plant.pressure_pa
        return [
            Record(f"{visit.name}/{name}/pressure", stamp, unit="Pa", value=max(0.0, probe.read(visit.time_s, true_pa)))
            for name, probe in self._ports.items()
        ]

    def _read_clamps(self) -> list[Record]:
        visit, stamp = self._visit, round(self._visit.time_s, 3)
        ambient_k = visit.scenario.ambient_c + ICE_POINT_K
        true_k = {"suction": ambient_k, "ambient": ambient_k, "container": ambient_k}
        if visit.recovering is not None:
            true_k["suction"] = visit.recovering.circuit.temperature_k
            true_k["container"] = visit.recovering.connected.vessel.temperature_k
        elif visit.dry is not None:
            true_k["suction"] = true_k["ambient"] = visit.dry.temperature_k
        shown = ("suction", "ambient", "container") if visit.recovering is not None else ("suction", "ambient")
        return [
            Record(
                f"{visit.name}/{name}/temperature", stamp, unit="Cel",
                value=self._clamps[name].read(visit.time_s, true_k[name] - ICE_POINT_K),
            )
            for name in shown
        ]  # fmt: skip

    def _read_gauge(self) -> list[Record]:
        visit = self._visit
        if visit.dry is None:
            return []
        atmosphere = visit.scenario.atmosphere_pa
        value = self._gauge.read(visit.time_s - self._start_s, visit.dry.pressure_pa, atmosphere)
        return [Record(f"{visit.name}/vacuum/pressure", round(visit.time_s, 3), unit="Pa", value=value)]
