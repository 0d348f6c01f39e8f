"""Random vacuum holds, one a seed, to try a judgement on. What a hold is really like is known to the last pascal.

| drawn | from |
|---|---|
| what is wrong | nothing 30 %, a leak 30 %, something volatile 25 %, both 15 % |
| leak into vacuum | 1e-7 to 1e-2 Pa·m³/s, log-uniform |
| something volatile | free water 50 %, water bound in oil 20 %, refrigerant in oil 30 % |
| free water | 0.05 to 5 g, log-uniform, on a spot with 20 to 200 J/K of metal, 0.05 to 1 W/K from its surroundings |
| bound water | 20 to 600 mg in the oil, time constant 10 to 90 min |
| refrigerant in oil | 0.05 to 3 g left, time constant 20 to 240 min |
| before the hold | 8 to 45 min of pumping from 1 bar, 0.6 to 2.4 l/s, hose 0.9 to 2 m of 4.8 to 9.5 mm |
| volume | 1.5 to 9 l, log-uniform, declared with a standard uncertainty of 3 to 15 % (normal, known) |
| hold | 5 to 60 min, uniform |
| gauge | steps of 1, 10, 100 Pa (30 % each) or 3386 Pa (10 %); noise 0.2 to 0.6 step (the needle 0.1 to 0.2 step) |
| zero | drifts by up to ±0.1 step in the hold, constant error up to ±1 step |
| sampling | 0.1, 0.2, 0.5, 1 or 2 Hz |
| temperature | 5 to 38 °C, wanders by 0 to 3 K up or down (linear, relaxing, passing); a quarter stands still |
| probe | in 70 % of the holds: ±0.3 K constant, 0.05 K noise, 0.1 K step; the gas follows it by 0.9 to 1.1 |
| coldest spot | 0 to 6 K colder than the gas, declared with an error of 0.5 K (standard deviation) |

What is volatile may be gone before the hold begins, or be too little to show: a hold counts as wet when it truly rises
by 1 Pa or more by what comes out of water and oil. A leak counts however small it is: `leak_rise_pa` says what it did.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from typing import Literal

from fillmark_sim.scale import to_step
from fillmark_sim.vacuum.circuit import ATMOSPHERE_PA, Given, VacuumCircuit
from fillmark_sim.vacuum.gauge import INHG_PA, Gauge, GaugeData
from fillmark_sim.vacuum.oil import Dissolved
from fillmark_sim.vacuum.pump import Pump, PumpData
from fillmark_sim.vacuum.water import WetSpot, saturation_pa
from fillmark_sim.vacuum.weather import SHAPES, Weather

Verdict = Literal["tight", "leaking", "wet", "both"]
Sample = tuple[float, float, float | None]

WET_FROM_PA = 1.0
FIRST_STEP_S = 0.1
STEP_GROWS = 1.15
LONGEST_STEP_S = 10.0
RATES_HZ = (0.1, 0.2, 0.5, 1.0, 2.0)
OIL_KG = 0.08
WATER_IN_OIL = 0.01
REFRIGERANT_KG_PER_PA = 6.0e-8
KINDS: tuple[tuple[Verdict, float], ...] = (("tight", 0.30), ("leaking", 0.30), ("wet", 0.25), ("both", 0.15))


@dataclass(frozen=True, slots=True)
class HoldCase:
    """A hold as the listener gets it, and the truth.

    Attributes:
        samples: (time s from the valve's closing, absolute pressure Pa as the gauge shows it, temperature K or None).
        gauge_resolution_pa, gauge_noise_pa: of the gauge; the noise is the standard deviation before rounding.
        volume_m3, volume_u_m3: declared volume and its standard uncertainty.
        coldest_k: declared temperature of the coldest spot at the beginning.
        truth: "wet" when water or oil truly raised the pressure by 1 Pa or more, "leaking" when there is a leak at all.
        leak_q_pa_m3_s: leak into a vacuum at the gas's temperature.
        water_kg: liquid, frozen, bound and vapour at the beginning.
        outgas_kg: refrigerant in oil at the beginning.
        true_volume_m3, true_coldest_k: without the declaration's errors.
        leak_rise_pa, volatile_rise_pa, temperature_rise_pa: what each cause did to the true pressure in the hold.
        true_pa: true pressure at the beginning and at the end.
    """

    samples: tuple[Sample, ...]
    gauge_resolution_pa: float
    gauge_noise_pa: float
    volume_m3: float
    volume_u_m3: float
    coldest_k: float
    truth: Verdict
    leak_q_pa_m3_s: float
    water_kg: float
    outgas_kg: float
    true_volume_m3: float
    true_coldest_k: float
    leak_rise_pa: float
    volatile_rise_pa: float
    temperature_rise_pa: float
    true_pa: tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Course:
    """The true hold: pressure (Pa) and gas temperature (K) at moments (s)."""

    times: list[float]
    pressures: list[float]
    temperatures: list[float]


def sample_hold(
    seed: int,
    *,
    truth: Verdict | None = None,
    leak_q_pa_m3_s: float | None = None,
    gauge_resolution_pa: float | None = None,
    lasts_s: float | None = None,
    rate_hz: float | None = None,
    noise_seed: int | None = None,
) -> HoldCase:
    """The random hold of this seed.

    Args:
        seed: decides everything.
        truth: what shall be wrong, instead of a draw. A wet hold may still come out tight: see the module.
        leak_q_pa_m3_s: the leak (Pa·m³/s) where there is one, instead of a draw.
        gauge_resolution_pa: the gauge's step instead of a draw.
        lasts_s: the hold's length instead of a draw.
        rate_hz: readings each second instead of a draw.
        noise_seed: another scatter of the same readings; all else stays.
    """
    rng = random.Random(f"hold/{seed}")
    noise = random.Random(f"hold/{seed}/noise/{noise_seed or 0}")
    circuit, weather, cold_k = _circuit(rng, seed, truth, leak_q_pa_m3_s)
    lasts = _or(lasts_s, rng.uniform(300.0, 3600.0))
    _evacuate(rng, circuit, weather, cold_k)
    water_kg = circuit.water_kg
    outgas_kg = 0.0 if circuit.refrigerant_oil is None else circuit.refrigerant_oil.mass_kg
    course = _hold(circuit, weather, cold_k, lasts)
    volatile, leaked = circuit.rise_pa(circuit.given.volatile), circuit.rise_pa(circuit.given.leak)
    gauge = _gauge(rng, gauge_resolution_pa, lasts)
    relative_u = rng.uniform(0.03, 0.15)
    volume = circuit.volume_m3
    declared = volume * max(0.5, 1.0 + rng.gauss(0.0, relative_u))
    first, last = course.pressures[0], course.pressures[-1]
    return HoldCase(
        samples=_samples(course, _probe(seed, weather), Gauge(gauge, noise), _or(rate_hz, rng.choice(RATES_HZ)), noise),
        gauge_resolution_pa=gauge.resolution_pa,
        gauge_noise_pa=gauge.noise_pa,
        volume_m3=declared,
        volume_u_m3=relative_u * declared,
        coldest_k=cold_k + rng.gauss(0.0, 0.5),
        truth=verdict(circuit.leak_q, volatile),
        leak_q_pa_m3_s=circuit.leak_q,
        water_kg=water_kg,
        outgas_kg=outgas_kg,
        true_volume_m3=volume,
        true_coldest_k=cold_k,
        leak_rise_pa=leaked,
        volatile_rise_pa=volatile,
        temperature_rise_pa=last - first - leaked - volatile,
        true_pa=(first, last),
    )


def verdict(leak_q: float, volatile_rise_pa: float) -> Verdict:
    """What is so, from the leak (Pa·m³/s) and what water and oil did to the pressure (Pa)."""
    if volatile_rise_pa >= WET_FROM_PA:
        return "both" if leak_q > 0.0 else "wet"
    return "leaking" if leak_q > 0.0 else "tight"


def _or(given: float | None, drawn: float) -> float:
    return drawn if given is None else given


def log_uniform(rng: random.Random, least: float, most: float) -> float:
    """Drawn so that every decade is as likely."""
    return math.exp(rng.uniform(math.log(least), math.log(most)))


def _circuit(
    rng: random.Random, seed: int, truth: Verdict | None, leak_q: float | None
) -> tuple[VacuumCircuit, Weather, float]:
    """The circuit before it is evacuated, its weather, and the temperature (K) of its coldest spot."""
    drawn = rng.choices([name for name, _ in KINDS], [share for _, share in KINDS])[0]
    kind = truth or drawn
    volume = log_uniform(rng, 1.5e-3, 9.0e-3)
    weather = _weather(rng)
    cold_k = weather.start_k - rng.uniform(0.0, 6.0)
    leak = _or(leak_q, log_uniform(rng, 1e-7, 1e-2))
    circuit = VacuumCircuit(volume, weather.start_k, leak if kind in {"leaking", "both"} else 0.0)
    if kind in {"wet", "both"}:
        _make_volatile(random.Random(f"hold/{seed}/volatile"), circuit, cold_k)
    return circuit, weather, cold_k


def _weather(rng: random.Random) -> Weather:
    start_k = rng.uniform(278.15, 311.15)
    change = rng.uniform(-3.0, 3.0)
    shape = rng.choice(SHAPES)
    lasts = rng.uniform(1200.0, 5400.0)
    return Weather(start_k, 0.0 if rng.random() < 0.25 else change, shape, lasts)


def _make_volatile(rng: random.Random, circuit: VacuumCircuit, cold_k: float) -> None:
    which = rng.random()
    if which < 0.5:
        circuit.spot = WetSpot(
            log_uniform(rng, 5e-5, 5e-3), cold_k, wall_j_per_k=log_uniform(rng, 20.0, 200.0),
            ua_w_per_k=log_uniform(rng, 0.05, 1.0), speed_m3_s=log_uniform(rng, 1e-4, 3e-3),
        )  # fmt: skip
    elif which < 0.7:
        mass = log_uniform(rng, 2e-5, 6e-4)
        holds = OIL_KG * WATER_IN_OIL / saturation_pa(circuit.gas_k)
        circuit.water_oil = Dissolved(mass, tau_s=log_uniform(rng, 600.0, 5400.0), kg_per_pa=holds)
    else:
        mass = log_uniform(rng, 5e-5, 3e-3)
        circuit.refrigerant_oil = Dissolved(
            mass, tau_s=log_uniform(rng, 1200.0, 14400.0), kg_per_pa=REFRIGERANT_KG_PER_PA
        )


def _evacuate(rng: random.Random, circuit: VacuumCircuit, weather: Weather, cold_k: float) -> None:
    pump = Pump(
        PumpData(
            log_uniform(rng, 0.6e-3, 2.4e-3), log_uniform(rng, 1.0, 20.0), ballast=rng.random() < 0.3,
            hose_m=rng.uniform(0.9, 2.0), bore_m=rng.choice((4.8e-3, 6.0e-3, 8.0e-3, 9.5e-3)),
            port_m=rng.uniform(1.5e-3, 4.0e-3),
        )
    )  # fmt: skip
    ends = rng.uniform(480.0, 2700.0)
    circuit.fill(air_pa=ATMOSPHERE_PA)
    time_s, dt_s = 0.0, FIRST_STEP_S
    while time_s < ends:
        dt_s = min(LONGEST_STEP_S, dt_s * STEP_GROWS, ends - time_s + 1e-9)
        circuit.step(dt_s, weather.start_k, cold_k, pump)
        time_s += dt_s


def _hold(circuit: VacuumCircuit, weather: Weather, cold_k: float, lasts_s: float) -> _Course:
    circuit.given = Given()
    course = _Course([0.0], [circuit.pressure_pa], [weather.start_k])
    colder = cold_k - weather.start_k
    time_s, dt_s = 0.0, FIRST_STEP_S
    while time_s < lasts_s:
        dt_s = min(LONGEST_STEP_S, dt_s * STEP_GROWS)
        time_s += dt_s
        gas_k = weather.at(time_s)
        circuit.step(dt_s, gas_k, gas_k + colder)
        course.times.append(time_s)
        course.pressures.append(circuit.pressure_pa)
        course.temperatures.append(gas_k)
    return course


def _gauge(rng: random.Random, resolution_pa: float | None, lasts_s: float) -> GaugeData:
    drawn = rng.choices((1.0, 10.0, 100.0, INHG_PA), (0.3, 0.3, 0.3, 0.1))[0]
    step = _or(resolution_pa, drawn)
    noise = rng.uniform(0.2, 0.6) * step
    if step > 1000.0:
        noise = rng.uniform(0.1, 0.2) * step
    drift = rng.uniform(-0.1, 0.1) * step * 3600.0 / lasts_s
    return GaugeData(step, noise, rng.uniform(-1.0, 1.0) * step, drift)


@dataclass(frozen=True, slots=True)
class _Probe:
    """A temperature probe on the circuit. `fitted` is False when there is none."""

    fitted: bool
    start_k: float
    offset_k: float
    follows: float

    def read(self, gas_k: float, rng: random.Random) -> float | None:
        """What it shows, K."""
        if not self.fitted:
            return None
        shown_k = self.start_k + (gas_k - self.start_k) / self.follows + self.offset_k
        return to_step(shown_k + rng.gauss(0.0, 0.05), 0.1)


def _probe(seed: int, weather: Weather) -> _Probe:
    rng = random.Random(f"hold/{seed}/probe")
    return _Probe(rng.random() < 0.7, weather.start_k, rng.uniform(-0.3, 0.3), rng.uniform(0.9, 1.1))


def _samples(course: _Course, probe: _Probe, gauge: Gauge, rate_hz: float, rng: random.Random) -> tuple[Sample, ...]:
    times, pressures, temperatures = course.times, course.pressures, course.temperatures
    found: list[Sample] = []
    index, number = 1, 0
    while (time_s := number / rate_hz) <= times[-1]:
        while times[index] < time_s:
            index += 1
        share = (time_s - times[index - 1]) / (times[index] - times[index - 1])
        true_pa = pressures[index - 1] + share * (pressures[index] - pressures[index - 1])
        gas_k = temperatures[index - 1] + share * (temperatures[index] - temperatures[index - 1])
        found.append((time_s, gauge.read(time_s, true_pa, ATMOSPHERE_PA), probe.read(gas_k, rng)))
        number += 1
    return tuple(found)
