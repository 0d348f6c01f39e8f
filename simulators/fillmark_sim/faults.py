"""Faulty circuits to try a diagnosis on: one seed, one circuit, one fault or none, and what the probes said of it.

Distribution of `sample`:

* Refrigerant and layout: R-134a 40 %, R-1234yf 40 % (of these 60 % valve and receiver, a third of which turn their
  compressor down instead of cycling it; 40 % orifice tube), R-407C in a split system 20 %.
* Outside 18 to 38 °C, relative humidity 25 to 75 % but no dew point above 24 °C. Vehicles draw outside air, within
  0.7 K; a split system draws room air of 21 to 27 °C and 40 to 60 %.
* A quarter is healthy; the rest is spread evenly over six faults. Severity is uniform from 0.25 to 1.
* Charge of a circuit that is not charged wrongly: within 3 % (one standard deviation) of its label.
* Probes: an offset that stays, and noise (see `_BIAS`, `_NOISE`); a clamp sees 3 % of the way to the surroundings.
* Some probes are not fitted, and not every job reads the static pressure before start (`_FITTED`, `_STATIC`).

Severity 0.25 / 0.5 / 1 means, of each fault: charge missing 29 / 43 / 70 %; charge too much 28 / 40 / 65 %; air, of
what the unevacuated circuit holds, 36 / 58 / 100 %; passage left of orifice 69 / 58 / 35 %, of a valve's line 57 / 44 /
18 %; condenser air left 65 / 50 / 20 %; stroke leaking back 29 / 43 / 70 %.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from random import Random

from fillmark_sim import plants
from fillmark_sim.running import GAS_CONSTANT, Around, Plant, Running, Wrong

HEALTHY = "healthy"
FAULTS = (
    "undercharge", "overcharge", "air in the circuit", "restricted", "condenser airflow", "compressor weak",
)  # fmt: skip

STEP_S = 0.5
WARM_UP_S = 240.0
RECORD_S = 240.0
PRESSURE_EVERY = 2
TEMPERATURE_EVERY = 4
_STATIC = 0.6
_FITTED = {
    "suction/temperature": 0.92, "liquid/temperature": 0.92, "discharge/temperature": 0.6, "ambient/humidity": 0.9,
}  # fmt: skip
_BIAS = {"pressure": 3e3, "clamp": 0.6, "air": 0.5, "humidity": 3.0}
_PRESSURE_SHARE = 0.004
_NOISE = {"pressure": 1.5e3, "clamp": 0.15, "air": 0.15, "humidity": 0.5}
_CLAMP_SEES = 0.03

Series = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class FaultCase:
    """One try.

    Attributes:
        layout: how it meters and where it keeps spare refrigerant.
        layout_known: whether the technician knows.
        truth: "healthy" or one of `FAULTS`. severity: 0 to 1.
        readings: (time s, value) by channel within the bay, units of the wire: Pa absolute, Cel, %RH.
        static: pressure (Pa absolute) and ambient temperature (°C) before the start, where they were read.
        shift: how far the fault moves what can be measured, in standard uncertainties of the probes, against the same
            circuit without the fault: the largest of them. Below 2 no probe can see it.
    """

    seed: int
    refrigerant: str
    layout: str
    layout_known: bool
    truth: str
    severity: float
    readings: Mapping[str, Series]
    static: tuple[float, float] | None
    shift: float


@dataclass(slots=True)
class _Probe:
    """A probe with an offset of its own."""

    kind: str
    luck: Random
    offset: float

    def read(self, true: float, around: float) -> float:
        seen = true + (_CLAMP_SEES * (around - true) if self.kind == "clamp" else 0.0)
        share = seen * self.offset * _PRESSURE_SHARE if self.kind == "pressure" else 0.0
        return seen + self.offset * _BIAS[self.kind] + share + self.luck.gauss(0.0, _NOISE[self.kind])


def sample(seed: int, truth: str | None = None, severity: float | None = None) -> FaultCase:
    """The case of a seed, decided by nothing else. `truth` and `severity` replace what the seed would choose."""
    luck = Random(seed)
    chosen = HEALTHY if luck.random() < 0.25 else luck.choice(FAULTS)
    chance = luck.uniform(0.25, 1.0)
    chosen = truth or chosen
    degree = 0.0 if chosen == HEALTHY else chance if severity is None else severity
    plant, layout = _plant(luck)
    around = _around(luck, layout)
    label = luck.gauss(1.0, 0.03)
    wrong = _wrong(chosen, degree, plant, label)
    running, sound = Running(plant, wrong, around), Running(plant, replace(Wrong(), charge=label), around)
    probes = _probes(luck)
    readings, mean = _record(running, probes, around, layout)
    fitted = {name for name, share in _FITTED.items() if luck.random() < share} | (set(readings) - set(_FITTED))
    read = luck.random() < _STATIC
    static = _static(luck, plant, wrong, around, probes["low/pressure"])
    known = layout == plants.VALVE_WITHOUT_RECEIVER or luck.random() < 0.7
    shift = (
        0.0 if chosen == HEALTHY else _shift(mean, _record(sound, probes, around, layout)[1], plant, wrong, read=read)
    )
    return FaultCase(
        seed=seed,
        refrigerant=plant.refrigerant,
        layout=layout,
        layout_known=known,
        truth=chosen,
        severity=degree,
        readings={name: series for name, series in readings.items() if name in fitted},
        static=static if read else None,
        shift=shift,
    )


def _plant(luck: Random) -> tuple[Plant, str]:
    kind, layout_luck, variable = luck.random(), luck.random(), luck.random() < 1.0 / 3.0
    if kind < 0.2:
        layout, refrigerant, variable = plants.VALVE_WITHOUT_RECEIVER, "R-407C", False
    else:
        refrigerant = "R-134a" if kind < 0.6 else "R-1234yf"
        layout = plants.VALVE_AND_RECEIVER if layout_luck < 0.6 else plants.ORIFICE_AND_ACCUMULATOR
        variable = variable and layout == plants.VALVE_AND_RECEIVER
    return plants.built(layout, refrigerant, luck, variable=variable), layout


def _around(luck: Random, layout: str) -> Around:
    outside = luck.uniform(18.0, 38.0)
    humidity = luck.uniform(0.25, 0.75)
    wettest = math.exp(17.625 * 24.0 / (24.0 + 243.04) - 17.625 * outside / (outside + 243.04))
    entering, room = outside + luck.gauss(0.0, 0.7), (luck.uniform(21.0, 27.0), luck.uniform(0.4, 0.6))
    if layout == plants.VALVE_WITHOUT_RECEIVER:
        return Around(outside, *room)
    return Around(outside, entering, min(humidity, wettest))


def _wrong(truth: str, severity: float, plant: Plant, label: float) -> Wrong:
    whole_air = 101325.0 * plant.volume_m3 / (GAS_CONSTANT * 295.0)
    passage = 1.0 - ((0.5 + 0.42 * severity) if plant.valve else (0.2 + 0.45 * severity))
    table = {
        HEALTHY: Wrong(charge=label),
        "undercharge": Wrong(charge=1.0 - (0.15 + 0.55 * severity)),
        "overcharge": Wrong(charge=1.0 + 0.15 + 0.5 * severity),
        "air in the circuit": Wrong(charge=label, air_mol=whole_air * (0.15 + 0.85 * severity)),
        "restricted": Wrong(charge=label, passage=passage),
        "condenser airflow": Wrong(charge=label, condenser_air=1.0 - (0.2 + 0.6 * severity)),
        "compressor weak": Wrong(charge=label, leakage=0.15 + 0.55 * severity),
    }
    return table[truth]


_KINDS = {
    "low/pressure": "pressure", "high/pressure": "pressure", "suction/temperature": "clamp",
    "liquid/temperature": "clamp", "discharge/temperature": "clamp", "vent/temperature": "air",
    "ambient/temperature": "air", "return/temperature": "air", "ambient/humidity": "humidity",
    "return/humidity": "humidity",
}  # fmt: skip


def _probes(luck: Random) -> dict[str, _Probe]:
    return {name: _Probe(kind, luck, luck.gauss(0.0, 1.0)) for name, kind in _KINDS.items()}


def _true(running: Running, around: Around, layout: str) -> dict[str, float]:
    clamps = running.clamps
    values = {
        "low/pressure": running.low_pa,
        "high/pressure": running.high_pa,
        "suction/temperature": clamps.suction,
        "liquid/temperature": clamps.liquid,
        "discharge/temperature": clamps.discharge,
        "vent/temperature": clamps.vent,
        "ambient/temperature": around.outside_c,
        "ambient/humidity": 100.0 * around.entering_humidity,
    }
    if layout == plants.VALVE_WITHOUT_RECEIVER:  # whose air is the room's
        del values["ambient/humidity"]
        values["return/temperature"] = around.entering_c
        values["return/humidity"] = 100.0 * around.entering_humidity
    return values


def _record(
    running: Running, probes: Mapping[str, _Probe], around: Around, layout: str
) -> tuple[dict[str, Series], dict[str, float]]:
    """What the probes said, and the true means with the share of time that the compressor ran."""
    for _ in range(round(WARM_UP_S / STEP_S)):
        running.step(STEP_S)
    said: dict[str, list[tuple[float, float]]] = {}
    sums: dict[str, float] = {}
    count = round(RECORD_S / STEP_S)
    for number in range(count):
        running.step(STEP_S)
        if number % PRESSURE_EVERY:
            continue
        true = _true(running, around, layout)
        sums = {name: sums.get(name, 0.0) + value for name, value in true.items()}
        sums["on"] = sums.get("on", 0.0) + running.on
        for name, value in true.items():
            if _KINDS[name] == "pressure" or number % TEMPERATURE_EVERY == 0:
                said.setdefault(name, []).append((number * STEP_S, probes[name].read(value, around.outside_c)))
    means = {name: total / (count / PRESSURE_EVERY) for name, total in sums.items()}
    return {name: tuple(series) for name, series in said.items()}, means


def _static(luck: Random, plant: Plant, wrong: Wrong, around: Around, probe: _Probe) -> tuple[float, float]:
    """Pressure and ambient temperature after a night's standing; the circuit lies within 0.7 K of the air."""
    from fillmark_sim.running_fluid import table  # noqa: PLC0415 - CoolProp behind it is imported late

    rows = table(plant.refrigerant)
    cold = around.outside_c - 3.0
    inside = cold + luck.gauss(0.0, 0.7)
    saturated = rows.bubble_pressure_pa(inside)
    liquid_m3 = wrong.charge * plant.label_charge_kg() / rows.at(inside).rho_l
    air = wrong.air_mol * GAS_CONSTANT * (inside + 273.15) / max(plant.volume_m3 - liquid_m3, 0.1 * plant.volume_m3)
    return probe.read(saturated + air, cold), cold + luck.gauss(0.0, 0.5)


def _shift(faulty: Mapping[str, float], sound: Mapping[str, float], plant: Plant, wrong: Wrong, *, read: bool) -> float:
    """The largest change of a mean reading, in standard uncertainties of its probe."""
    units = {"clamp": 1.0, "air": 0.7}
    changes = [0.0]
    for name, value in faulty.items():
        if name == "on":
            changes.append(abs(value - sound[name]) / 0.1)
        elif name.endswith("pressure"):
            changes.append(abs(value - sound[name]) / math.hypot(3e3, 0.01 * sound[name]))
        elif _KINDS[name] in units:
            changes.append(abs(value - sound[name]) / units[_KINDS[name]])
    if read and wrong.air_mol:
        changes.append(wrong.air_mol * GAS_CONSTANT * 295.0 / plant.volume_m3 / 20e3)
    return max(changes)
