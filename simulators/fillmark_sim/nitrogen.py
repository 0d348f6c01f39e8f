"""Random standing tests with dry nitrogen, one a seed. What leaks is known to the last pascal.

| drawn | from |
|---|---|
| what is wrong | nothing 50 %, a leak 50 % |
| leak | 1e-4 to 3e-1 Pa·m³/s at the test pressure, log-uniform |
| volume | 1.5 to 9 l, log-uniform, declared with a standard uncertainty of 3 to 15 % (normal, known) |
| test pressure | 8 to 25 bar absolute |
| filled | over 20 to 120 s from 1 bar; the gas is then 2 to 6 K too warm and cools with a time constant of 15 to 60 s |
| topped up | in 20 %: once, in the first 60 % of the time, by 1 to 8 % of the pressure |
| let off | in 30 % nitrogen is let off before the step ends |
| stands for | 5 to 60 min |
| temperature | 5 to 38 °C, wanders by 0 to 4 K up or down (linear, relaxing, passing); a quarter stands still |
| thermometer | in 70 %: ±0.3 K constant, 0.05 K noise, 0.1 K step, 8 s late; the gas follows it by 0.9 to 1.1 |
| gauge | steps of 100, 500, 1000 or 10000 Pa; noise 0.2 to 1.5 step (the coarse one 0.1 to 0.3) |
| sampling | every 2, 5, 10 or 30 s |
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass

from fillmark_sim.scale import to_step
from fillmark_sim.vacuum.circuit import ATMOSPHERE_PA
from fillmark_sim.vacuum.holds import log_uniform
from fillmark_sim.vacuum.weather import SHAPES, Weather

STEP_S = 1.0
PROBE_LAG_S = 8.0
LET_OFF_S = 60.0
LET_OFF_TAU_S = 6.0
TOPPING_S = 10.0


@dataclass(frozen=True, slots=True)
class NitrogenCase:
    """A standing test as the listener gets it, and the truth.

    Attributes:
        samples: (time s since the step began, absolute pressure Pa as the gauge shows it, temperature K or None).
        gauge_resolution_pa: step of the gauge.
        volume_m3, volume_u_m3: declared, with its standard uncertainty.
        leak_pa_s: how fast the leak lets the pressure fall, the mean over the time that counts; 0: tight.
        true_volume_m3: without the declaration's error.
        stands_from_s: since when nothing was let in; the test counts from there.
        ends_s: when nitrogen was let off, or the step ended.
        topped_up: whether nitrogen was let in a second time.
    """

    samples: tuple[tuple[float, float, float | None], ...]
    gauge_resolution_pa: float
    volume_m3: float
    volume_u_m3: float
    leak_pa_s: float
    true_volume_m3: float
    stands_from_s: float
    ends_s: float
    topped_up: bool


@dataclass(frozen=True, slots=True)
class _Plan:
    """What is done and when, and what the gas and the thermometer do."""

    fill_s: float
    fill_pa: float
    top_s: float
    top_share: float
    let_off_s: float
    ends_s: float
    warm_k: float
    cools_s: float
    leak_share_s: float
    weather: Weather
    follows: float


def sample_nitrogen(seed: int) -> NitrogenCase:
    """The random standing test of this seed, which decides everything."""
    rng = random.Random(f"nitrogen/{seed}")
    volume = log_uniform(rng, 1.5e-3, 9e-3)
    plan = _plan(rng, volume)
    step_pa = rng.choice((100.0, 500.0, 1000.0, 10000.0))
    noise_pa = step_pa * (rng.uniform(0.1, 0.3) if step_pa > 5000.0 else rng.uniform(0.2, 1.5))
    every_s, fitted, offset_k = rng.choice((2.0, 5.0, 10.0, 30.0)), rng.random() < 0.7, rng.uniform(-0.3, 0.3)
    relative_u = rng.uniform(0.03, 0.15)
    declared = volume * max(0.5, 1.0 + rng.gauss(0.0, relative_u))
    samples = []
    for time_s, pressure_pa, probe_k in _stood(plan):
        if time_s % every_s == 0.0:
            shown_pa = max(0.0, to_step(pressure_pa + rng.gauss(0.0, noise_pa), step_pa))
            shown_k = to_step(probe_k + offset_k + rng.gauss(0.0, 0.05), 0.1) if fitted else None
            samples.append((time_s, shown_pa, shown_k))
    topped = plan.top_share > 0.0
    from_s = plan.top_s + TOPPING_S if topped else plan.fill_s
    before = math.exp(-plan.leak_share_s * (from_s - plan.fill_s))
    counts_s = plan.let_off_s - from_s
    lost_pa = plan.fill_pa * (before + plan.top_share) * -math.expm1(-plan.leak_share_s * counts_s)
    return NitrogenCase(
        samples=tuple(samples),
        gauge_resolution_pa=step_pa,
        volume_m3=declared,
        volume_u_m3=relative_u * declared,
        leak_pa_s=lost_pa / counts_s,
        true_volume_m3=volume,
        stands_from_s=from_s,
        ends_s=plan.let_off_s,
        topped_up=topped,
    )


def _plan(rng: random.Random, volume_m3: float) -> _Plan:
    fill_s, stands_s, fill_pa = rng.uniform(20.0, 120.0), rng.uniform(300.0, 3600.0), rng.uniform(8e5, 25e5)
    leaks = rng.random() < 0.5
    q = log_uniform(rng, 1e-4, 3e-1)
    topped, let_off = rng.random() < 0.2, rng.random() < 0.3
    top_s, top_share = fill_s + rng.uniform(0.1, 0.6) * stands_s, rng.uniform(0.01, 0.08)
    still = rng.random() < 0.25
    weather = Weather(
        rng.uniform(278.15, 311.15), 0.0 if still else rng.uniform(-4.0, 4.0), rng.choice(SHAPES),
        rng.uniform(1200.0, 5400.0),
    )  # fmt: skip
    return _Plan(
        fill_s=fill_s,
        fill_pa=fill_pa,
        top_s=top_s if topped else math.inf,
        top_share=top_share if topped else 0.0,
        let_off_s=fill_s + stands_s,
        ends_s=fill_s + stands_s + (LET_OFF_S if let_off else 0.0),
        warm_k=rng.uniform(2.0, 6.0),
        cools_s=rng.uniform(15.0, 60.0),
        leak_share_s=q / fill_pa / volume_m3 if leaks else 0.0,
        weather=weather,
        follows=rng.uniform(0.9, 1.1),
    )


def _stood(plan: _Plan) -> Iterator[tuple[float, float, float]]:
    """Time, true pressure (Pa, absolute) and what the thermometer follows (K), second by second.

    The amount of gas counts as its pressure at the first temperature; the leak lets volume out at the pressure's own
    rate, as laminar flow does about one pressure.
    """
    start_k = plan.weather.at(0.0)
    amount, warm, probe_k, time_s = ATMOSPHERE_PA, 0.0, start_k, 0.0
    while time_s <= plan.ends_s:
        metal_k = plan.weather.at(time_s)
        gas_k = start_k + plan.follows * (metal_k - start_k) + warm
        yield time_s, amount * gas_k / start_k, probe_k
        time_s += STEP_S
        probe_k += (metal_k - probe_k) * -math.expm1(-STEP_S / PROBE_LAG_S)
        warm *= math.exp(-STEP_S / plan.cools_s)
        came = _came(plan, time_s)
        amount += came
        warm += plan.warm_k * came / plan.fill_pa
        if time_s > plan.let_off_s:
            amount = ATMOSPHERE_PA + (amount - ATMOSPHERE_PA) * math.exp(-STEP_S / LET_OFF_TAU_S)
        elif time_s > plan.fill_s:
            amount -= STEP_S * plan.leak_share_s * amount


def _came(plan: _Plan, time_s: float) -> float:
    """What was let in in this step, as pressure."""
    if time_s <= plan.fill_s:
        return (plan.fill_pa - ATMOSPHERE_PA) * STEP_S / plan.fill_s
    if plan.top_s < time_s <= plan.top_s + TOPPING_S:
        return plan.top_share * plan.fill_pa * STEP_S / TOPPING_S
    return 0.0
