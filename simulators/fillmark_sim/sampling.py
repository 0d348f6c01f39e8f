"""Random charges with an honest scale, one a seed.

| drawn | from |
|---|---|
| refrigerant | R-134a 60 %, R-1234yf 40 % |
| aim | 300 to 900 g, window ±15 to ±30 g, aim at the minimum, the middle or the maximum |
| containers | 75 %: one to three cans of 250, 340, 500, 750 g in water of 36 to 48 °C; else a 5 to 12 kg cylinder |
| hose | 0.9 to 2.5 m, 4 to 8 mm, port 1.15 to 1.5 mm, shut-off in every second |
| scale | 1 g (70 %) or 2 g, settling 0.3 to 0.6 s (0.5 s declared), 1, 2, 4 or 5 Hz |
| its faults | drift up to 1 g an hour, tug up to 0.1 g a bar |
| air | 10 to 38 °C, cabin 0 to 8 K above; containers between 18 °C and the air |
| person | reacts in 1.5 s ± 0.25 s, taps 0 to 0.6 s after the deed |
| radio | 0.05 to 0.4 s |

Nothing disturbs the pan.
"""

from __future__ import annotations

import math
import random

from fillmark_sim.scenario import Circuit, Container, Hose, Probes, Radio, Scale, Scenario, Technician

CAN_SIZES_KG = (0.25, 0.34, 0.50, 0.75)
MOST_CANS = 3
LEFT_IN_A_CAN_KG = 0.025
FILLING_KG_PER_L = {"R-134a": 0.85, "R-1234yf": 0.77}


def sample(seed: int) -> Scenario:
    """The random scenario of this seed. Its technician obeys, or closes by hand when nobody tells him."""
    rng = random.Random(f"sample/{seed}")
    refrigerant = "R-134a" if rng.random() < 0.6 else "R-1234yf"
    middle_kg = round(rng.uniform(0.3, 0.9), 2)
    half_kg = rng.choice((0.015, 0.02, 0.025, 0.03))
    ambient_c = round(rng.uniform(10.0, 38.0), 1)
    need_kg = middle_kg + half_kg
    cylinder = rng.random() >= 0.75
    cans = (_cylinder(rng, ambient_c, refrigerant),) if cylinder else _cans(rng, need_kg, ambient_c, refrigerant)
    return Scenario(
        name=f"sample-{seed}",
        title="A random charge with an honest scale",
        circuit=Circuit(
            refrigerant, round(middle_kg - half_kg, 3), round(need_kg, 3),
            volume_m3=round(middle_kg * rng.uniform(3.6, 4.8) * 1e-3 + 0.4e-3, 5),
            displacement_m3=rng.uniform(100e-6, 160e-6), ua_evaporator=rng.uniform(150.0, 240.0),
            ua_condenser=rng.uniform(280.0, 420.0),
        ),
        containers=cans,
        hose=Hose(
            round(rng.uniform(0.9, 2.5), 2), rng.choice((4.0e-3, 4.8e-3, 6.0e-3, 8.0e-3)),
            shutoff=rng.random() < 0.5, port_m=rng.uniform(1.15e-3, 1.5e-3),
        ),
        scale=_scale(rng, cylinder=cylinder),
        probes=Probes(every_temperature=10),
        radio=Radio(delay_s=rng.uniform(0.05, 0.4), declared_delay_s=0.5),
        technician=Technician(policy="obeys", tap_s=rng.uniform(0.0, 0.6)),
        ambient_c=ambient_c,
        cabin_c=round(ambient_c + rng.uniform(0.0, 8.0), 1),
        aim=rng.choice(("min", "mid", "max")),
    )  # fmt: skip


def _scale(rng: random.Random, *, cylinder: bool) -> Scale:
    return Scale(
        resolution_kg=0.001 if rng.random() < 0.7 else 0.002,
        noise_kg=rng.uniform(0.0001, 0.0004),
        settling_s=rng.uniform(0.3, 0.6),
        drift_kg_per_h=rng.uniform(0.0, 0.001),
        capacity_kg=30.0 if cylinder else 15.0,
        rate_hz=rng.choice((1.0, 2.0, 4.0, 5.0)),
        tug_kg_per_bar=rng.uniform(0.0, 0.0001),
    )


def _cans(rng: random.Random, need_kg: float, ambient_c: float, refrigerant: str) -> tuple[Container, ...]:
    fits = [
        (size, math.ceil((need_kg + 0.01) / (size - LEFT_IN_A_CAN_KG)))
        for size in CAN_SIZES_KG
    ]  # fmt: skip
    size_kg, number = rng.choice([one for one in fits if one[1] <= MOST_CANS])
    volume_l = size_kg / FILLING_KG_PER_L[refrigerant]
    bath_c = rng.uniform(36.0, 48.0)
    start_c = rng.uniform(min(18.0, ambient_c), max(18.0, ambient_c))
    return tuple(
        Container(
            f"C{index + 1}", size_kg, volume_l * 1e-3, metal_kg=0.12 + 0.1 * volume_l, temperature_c=start_c,
            bath_c=bath_c, bath_kg=rng.uniform(2.0, 3.0), ua_bath_w_per_k=8.0 + 9.0 * volume_l,
        )
        for index in range(number)
    )  # fmt: skip


def _cylinder(rng: random.Random, ambient_c: float, refrigerant: str) -> Container:
    net_kg = rng.uniform(5.0, 12.0)
    return Container(
        "C1", round(net_kg, 2), round(net_kg, 2) / FILLING_KG_PER_L[refrigerant] * 1e-3, metal_kg=3.0 + 0.3 * net_kg,
        temperature_c=max(24.0, ambient_c), ua_air_w_per_k=4.0, valve_m=3.0e-3,
    )  # fmt: skip
