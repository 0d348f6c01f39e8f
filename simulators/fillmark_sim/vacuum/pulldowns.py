"""Random pull-downs, one a seed, to try a judgement on. What holds the pressure up is known to the last pascal.

| drawn | from |
|---|---|
| what is wrong | nothing 40 %, a leak 20 %, something volatile 30 %, both 10 %; pump and hose as drawn below |
| leak into vacuum | 1e-6 to 3e-1 Pa·m³/s, log-uniform: from a seal to a loose fitting |
| something volatile | free water 60 %, water bound in oil 10 %, refrigerant in oil 30 % |
| free water | 0.2 to 20 g, log-uniform, on a spot with 20 to 400 J/K of metal, 0.05 to 4 W/K from its surroundings |
| bound water, refrigerant in oil | as in `holds.py` |
| pump | 0.3 to 2.4 l/s; ultimate pressure 1 to 200 Pa; gas ballast open in 30 % |
| hose | 0.9 to 3 m of 3.6 to 9.5 mm; narrowest bore of port or valve core 1.2 to 4 mm |
| volume | 1.5 to 15 l, log-uniform, declared with a standard uncertainty of 3 to 15 % (normal, known) |
| pumped for | 3 to 45 min, log-uniform; a reading every 2, 5 or 10 s |
| gauge | steps of 1, 10 or 100 Pa; noise 0.2 to 0.6 step; constant error up to ±1 step |
| temperature | 5 to 38 °C; the coldest spot 0 to 6 K colder, declared to 0.5 K in 70 %, else not |
| pump and hose | declared in 70 %: speed to 10 %, length and bore to 3 % (normal), ultimate pressure without ballast |
| target | 30, 50, 67 or 200 Pa; one in five has none |

The port's bore is nobody's to declare; it is what a pull-down has to notice.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

from fillmark_sim.vacuum.circuit import ATMOSPHERE_PA, Given, VacuumCircuit
from fillmark_sim.vacuum.gauge import Gauge, GaugeData
from fillmark_sim.vacuum.holds import OIL_KG, REFRIGERANT_KG_PER_PA, WATER_IN_OIL, log_uniform
from fillmark_sim.vacuum.oil import Dissolved
from fillmark_sim.vacuum.pump import Pump, PumpData
from fillmark_sim.vacuum.water import WetSpot, saturation_pa

KINDS = (("nothing", 0.4), ("leak", 0.2), ("volatile", 0.3), ("both", 0.1))
STEP_S = 0.5
SHARES_OVER_S = 60.0
LATER_S = 2.0 * 3600.0
WIDE_M = 0.1


@dataclass(frozen=True, slots=True)
class PullDownCase:
    """A pull-down as the listener gets it, and the truth.

    Attributes:
        samples: (time s since the pump draws, absolute pressure Pa as the gauge shows it).
        gauge_resolution_pa, gauge_noise_pa: of the gauge; the noise is the standard deviation before rounding.
        volume_m3, volume_u_m3: declared, with its standard uncertainty.
        coldest_k: declared temperature of the coldest spot; None: not declared.
        target_pa: wanted; None: none.
        declared: pump and hose as declared; None: not declared.
        truth: what makes most of the pressure at the end: "pump", "leak", "water", "oil", or "falling" (what is still
            to be pumped).
        shares: parts of the pressure at the end, over the last minute, by those names; they add to 1.
        true_pa: at the end.
        later_pa: lowest true pressure had the pump run on for two hours.
        to_target_s: time after the end at which the target is truly reached; None: not within two hours.
        pump_m3_s: the pump's own speed.
        drawn_m3_s: speed at the circuit at the end, pump, hose and port together.
        hose_m3_s: speed that pump and hose would have without the port.
        air_share: in air at 10 kPa, the speed at the circuit over that of pump and hose alone.
    """

    samples: tuple[tuple[float, float], ...]
    gauge_resolution_pa: float
    gauge_noise_pa: float
    volume_m3: float
    volume_u_m3: float
    coldest_k: float | None
    target_pa: float | None
    declared: PumpData | None
    truth: str
    shares: dict[str, float]
    true_pa: float
    later_pa: float
    to_target_s: float | None
    pump_m3_s: float
    drawn_m3_s: float
    hose_m3_s: float
    air_share: float


@dataclass(slots=True)
class _Run:
    """A circuit on its pump."""

    circuit: VacuumCircuit
    pump: Pump
    gas_k: float
    cold_k: float

    def step(self, dt_s: float) -> None:
        self.circuit.step(dt_s, self.gas_k, self.cold_k, self.pump)


def sample_pull_down(seed: int) -> PullDownCase:
    """The random pull-down of this seed, which decides everything."""
    rng = random.Random(f"pull-down/{seed}")
    run = _run(rng)
    lasts_s = log_uniform(rng, 180.0, 2700.0)
    step_pa = rng.choice((1.0, 10.0, 100.0))
    gauge = GaugeData(step_pa, rng.uniform(0.2, 0.6) * step_pa, rng.uniform(-1.0, 1.0) * step_pa)
    target = None if rng.random() < 0.2 else rng.choice((30.0, 50.0, 67.0, 200.0))
    declares, knows_cold = rng.random() < 0.7, rng.random() < 0.7
    cold_k = run.cold_k + rng.gauss(0.0, 0.5)
    relative_u = rng.uniform(0.03, 0.15)
    volume = run.circuit.volume_m3 * max(0.5, 1.0 + rng.gauss(0.0, relative_u))
    samples = _pulled(run, lasts_s, rng.choice((2.0, 5.0, 10.0)), Gauge(gauge, rng))
    shares = _shares(run)
    true_pa, speeds = run.circuit.pressure_pa, _speeds(run)
    plate = _plate(rng, run.pump.data)
    later_pa, to_target_s = _later(run, target)
    return PullDownCase(
        samples=samples,
        gauge_resolution_pa=step_pa,
        gauge_noise_pa=gauge.noise_pa,
        volume_m3=volume,
        volume_u_m3=relative_u * volume,
        coldest_k=cold_k if knows_cold else None,
        target_pa=target,
        declared=plate if declares else None,
        truth=max(shares, key=lambda name: shares[name]),
        shares=shares,
        true_pa=true_pa,
        later_pa=later_pa,
        to_target_s=to_target_s,
        pump_m3_s=run.pump.data.speed_m3_s,
        drawn_m3_s=speeds[0],
        hose_m3_s=speeds[1],
        air_share=speeds[2],
    )


def _run(rng: random.Random) -> _Run:
    kind = rng.choices([name for name, _ in KINDS], [share for _, share in KINDS])[0]
    gas_k = rng.uniform(278.15, 311.15)
    cold_k = gas_k - rng.uniform(0.0, 6.0)
    leak_q = log_uniform(rng, 1e-6, 3e-1)
    circuit = VacuumCircuit(log_uniform(rng, 1.5e-3, 15e-3), gas_k, leak_q if kind in {"leak", "both"} else 0.0)
    circuit.fill(air_pa=ATMOSPHERE_PA)
    if kind in {"volatile", "both"}:
        _make_volatile(rng, circuit, cold_k)
    pump = Pump(
        PumpData(
            log_uniform(rng, 0.3e-3, 2.4e-3), log_uniform(rng, 1.0, 200.0), ballast=rng.random() < 0.3,
            hose_m=rng.uniform(0.9, 3.0), bore_m=rng.choice((3.6e-3, 4.8e-3, 6.0e-3, 8.0e-3, 9.5e-3)),
            port_m=rng.uniform(1.2e-3, 4.0e-3),
        )
    )  # fmt: skip
    return _Run(circuit, pump, gas_k, cold_k)


def _make_volatile(rng: random.Random, circuit: VacuumCircuit, cold_k: float) -> None:
    which = rng.random()
    if which < 0.6:
        circuit.spot = WetSpot(
            log_uniform(rng, 2e-4, 2e-2), cold_k, wall_j_per_k=log_uniform(rng, 20.0, 400.0),
            ua_w_per_k=log_uniform(rng, 0.05, 4.0), speed_m3_s=log_uniform(rng, 1e-4, 8e-3),
        )  # fmt: skip
    elif which < 0.7:
        holds = OIL_KG * WATER_IN_OIL / saturation_pa(circuit.gas_k)
        circuit.water_oil = Dissolved(
            log_uniform(rng, 2e-5, 6e-4), tau_s=log_uniform(rng, 600.0, 5400.0), kg_per_pa=holds
        )
    else:
        circuit.refrigerant_oil = Dissolved(
            log_uniform(rng, 5e-5, 3e-3), tau_s=log_uniform(rng, 1200.0, 14400.0), kg_per_pa=REFRIGERANT_KG_PER_PA
        )


def _pulled(run: _Run, lasts_s: float, every_s: float, gauge: Gauge) -> tuple[tuple[float, float], ...]:
    found = [(0.0, gauge.read(0.0, run.circuit.pressure_pa, ATMOSPHERE_PA))]
    for i in range(1, int(lasts_s / STEP_S) + 1):
        if i * STEP_S > lasts_s - SHARES_OVER_S >= (i - 1) * STEP_S:
            run.circuit.given = Given()
        run.step(STEP_S)
        if (i * STEP_S) % every_s == 0.0:
            found.append((i * STEP_S, gauge.read(i * STEP_S, run.circuit.pressure_pa, ATMOSPHERE_PA)))
    return tuple(found)


def _shares(run: _Run) -> dict[str, float]:
    """What makes the pressure: the pump's own, and what is pumped, divided as what came in in the last minute was."""
    circuit, given = run.circuit, run.circuit.given
    pressure = circuit.pressure_pa
    own = min(run.pump.ultimate_pa / pressure, 1.0)
    came = {"leak": given.leak, "water": given.water, "oil": given.refrigerant}
    sources = {name: max(amount, 0.0) for name, amount in came.items()}
    emptied = max(given.pumped - sum(came.values()), 0.0)
    whole = max(sum(sources.values()) + emptied, 1e-30)
    shares = {name: (1.0 - own) * amount / whole for name, amount in sources.items()}
    return {"pump": own, **shares, "falling": (1.0 - own) * emptied / whole}


def _speeds(run: _Run) -> tuple[float, float, float]:
    """Speed at the circuit now, the same without the port, and in air at 10 kPa the one over the other."""
    free = Pump(replace(run.pump.data, port_m=WIDE_M))
    here = max(run.circuit.pressure_pa, 1.01 * run.pump.ultimate_pa)

    def speed(pump: Pump, pressure_pa: float) -> float:
        return pump.throughput_pa_m3_s(pressure_pa) / (pressure_pa - pump.ultimate_pa)

    return speed(run.pump, here), speed(free, here), speed(run.pump, 1e4) / speed(free, 1e4)


def _plate(rng: random.Random, true: PumpData) -> PumpData:
    return replace(
        true,
        speed_m3_s=true.speed_m3_s * (1.0 + rng.gauss(0.0, 0.1)),
        hose_m=true.hose_m * (1.0 + rng.gauss(0.0, 0.03)),
        bore_m=true.bore_m * (1.0 + rng.gauss(0.0, 0.03)),
    )


def _later(run: _Run, target_pa: float | None) -> tuple[float, float | None]:
    """Pump on: the lowest pressure, and when the target is reached."""
    lowest, reached, time_s, dt_s = run.circuit.pressure_pa, None, 0.0, STEP_S
    while time_s < LATER_S:
        if target_pa is not None and reached is None and run.circuit.pressure_pa <= target_pa:
            reached = time_s
        dt_s = min(5.0, 1.05 * dt_s)
        run.step(dt_s)
        time_s += dt_s
        lowest = min(lowest, run.circuit.pressure_pa)
    return lowest, reached
