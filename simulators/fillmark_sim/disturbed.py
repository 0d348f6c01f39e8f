"""Random charges that are disturbed in one way each, for scales of any step. One a class, step and seed.

Circuit, hose, air, radio and person are those of `sampling.sample` for the same seed. Besides:

| drawn | from |
|---|---|
| container | one can of 1.15 to 1.6 times the need in water, or the sample's cylinder; "can swap": four small cans |
| scale | the step asked for, capacity 6, 10 or 15 kg (30 kg for a cylinder), 0.5, 1, 2, 5 or 10 readings a second |
| noise | 0.1 to 0.4 steps |
| linearity | gain ±0.05 %, a bow of up to one step (OIML R 76-1 table 6: 1 e to 3 e in service) |
| hose | length and bore known to 1 %; wall of 50 to 70 J/mK, 0.33 to 0.47 W/mK to the air |
| purge | 0.7 to 2.5 s after air has come into the hose |
| drift | up to 1 g an hour; in the sun 4 to 12 steps an hour |
| moment | while 10 to 98 % of the aim go in |

| class | what happens |
|---|---|
| clean | nothing |
| can swap | cans are emptied and changed, each change entered |
| hose tug | 8 to 60 g up or down for 3 to 60 s, at once or growing over 1 to 6 s |
| bump | a swing of 30 to 200 g that dies away |
| tool | 50 to 400 g laid on the pan for 3 to 60 s |
| drift in the sun | the zero creeps, see drift |
| missing samples | the scale's readings are lost for 3 to 20 s, or come 5 to 40 s late |
| probe dropout | 5 to 30 % of the probes' readings are lost, and all of them for 20 to 90 s |
| liquid | liquid through the high side, engine off, the container 8 to 18 K warmer than the circuit |
| liquid then vapour | liquid for 40 to 70 % of the aim, then vapour through the low side |

The technician declares his scale sheltered from sun and draught, where it is. In the sun OIML R 76-1:2006 3.9.2.3 lets
the zero move by one e for 5 K (from memory); 10 to 20 K within the time of a few charges is a judgement.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import replace

from fillmark_sim.sampling import FILLING_KG_PER_L, LEFT_IN_A_CAN_KG, sample
from fillmark_sim.scenario import Container, Event, Hose, Probes, Scale, Scenario, Stage

RATES_HZ = (0.5, 1.0, 2.0, 5.0, 10.0)
SMALL_CANS_KG = (0.25, 0.34, 0.50)
MOST_CANS = 4
GAIN = 5e-4
BENCH_KG = (6.0, 10.0, 15.0)
"""Up to so much weighs a scale for cans."""

Alter = Callable[[Scenario, random.Random], Scenario]


class UnknownClassError(ValueError):
    """No class of disturbance of that name."""


def sample_class(
    seed: int, disturbance: str, scale_resolution_kg: float = 0.001, classes: Mapping[str, Alter] | None = None
) -> Scenario:
    """The random charge of this seed, class and scale step (kg). Its technician obeys.

    Args:
        seed: decides the charge.
        disturbance: name of the class.
        scale_resolution_kg: step of the scale, kg.
        classes: the table that the name is looked up in, CLASSES when None.

    Raises:
        UnknownClassError: no such class.
    """
    known = CLASSES if classes is None else classes
    if disturbance not in known:
        raise UnknownClassError(f"no class {disturbance!r}; use one of {', '.join(known)}")
    rng = random.Random(f"class/{disturbance}/{seed}")
    base = sample(seed)
    one = replace(
        base,
        name=f"{disturbance.replace(' ', '-')}-{seed}",
        title=f"A random charge: {disturbance}",
        containers=(_one_container(base, rng),),
        scale=_scale(base.scale, rng, scale_resolution_kg),
        hose=_hose(base.hose, rng),
        technician=replace(base.technician, purge_s=rng.uniform(0.7, 2.5)),
    )
    return known[disturbance](one, rng)


def _scale(base: Scale, rng: random.Random, step_kg: float) -> Scale:
    return replace(
        base,
        resolution_kg=step_kg,
        noise_kg=rng.uniform(0.1, 0.4) * step_kg,
        rate_hz=rng.choice(RATES_HZ),
        gain_error=rng.uniform(-GAIN, GAIN),
        bow_kg=rng.uniform(-1.0, 1.0) * step_kg,
        capacity_kg=base.capacity_kg if base.capacity_kg > BENCH_KG[-1] else rng.choice(BENCH_KG),
    )


def _hose(base: Hose, rng: random.Random) -> Hose:
    return replace(
        base,
        declared_length_m=round(base.length_m * rng.uniform(0.99, 1.01), 2),
        declared_bore_m=base.bore_m,
        bore_m=base.bore_m * rng.uniform(0.99, 1.01),
        wall_j_per_mk=rng.uniform(50.0, 70.0),
        ua_w_per_mk=rng.uniform(0.33, 0.47),
    )


def _one_container(base: Scenario, rng: random.Random) -> Container:
    if base.scale.capacity_kg > BENCH_KG[-1]:
        return base.containers[0]
    net_kg = base.circuit.charge_max_kg * rng.uniform(1.15, 1.6) + LEFT_IN_A_CAN_KG
    return _can(base, rng, round(net_kg, 2))


def _can(base: Scenario, rng: random.Random, net_kg: float, number: int = 1) -> Container:
    volume_l = net_kg / FILLING_KG_PER_L[base.circuit.refrigerant]
    return Container(
        f"C{number}", net_kg, volume_l * 1e-3, metal_kg=0.12 + 0.1 * volume_l,
        temperature_c=rng.uniform(min(18.0, base.ambient_c), max(18.0, base.ambient_c)),
        bath_c=rng.uniform(36.0, 48.0), bath_kg=rng.uniform(2.0, 3.0), ua_bath_w_per_k=8.0 + 9.0 * volume_l,
    )  # fmt: skip


def moment_kg(scenario: Scenario, rng: random.Random) -> float:
    """So much is in the circuit when something happens."""
    return rng.uniform(0.10, 0.98) * scenario.target_kg


def _clean(scenario: Scenario, rng: random.Random) -> Scenario:
    del rng
    return scenario


def can_swap(scenario: Scenario, rng: random.Random) -> Scenario:
    """Cans that are too small for the aim, and enough of them for the maximum, whatever a change loses."""
    need_kg = scenario.circuit.charge_max_kg + 0.04
    fits = [size for size in SMALL_CANS_KG if scenario.target_kg > size and need_kg <= MOST_CANS * (size - 0.04)]
    size = rng.choice(fits or [SMALL_CANS_KG[0]])
    return replace(
        scenario,
        containers=tuple(_can(scenario, rng, size, number + 1) for number in range(MOST_CANS)),
        scale=replace(scenario.scale, capacity_kg=rng.choice(BENCH_KG)),
    )


def _tug(scenario: Scenario, rng: random.Random) -> Scenario:
    event = Event(
        "tug", 0.0, rng.uniform(3.0, 60.0), rng.choice((-1.0, 1.0)) * rng.uniform(0.008, 0.060),
        at_kg=moment_kg(scenario, rng), ramp_s=rng.choice((0.0, rng.uniform(1.0, 6.0))),
    )  # fmt: skip
    return replace(scenario, events=(event,))


def _bump(scenario: Scenario, rng: random.Random) -> Scenario:
    swing_kg = rng.choice((-1.0, 1.0)) * rng.uniform(0.030, 0.200)
    return replace(scenario, events=(Event("bump", 0.0, 4.0, swing_kg, at_kg=moment_kg(scenario, rng)),))


def _tool(scenario: Scenario, rng: random.Random) -> Scenario:
    lasts_s, mass_kg = rng.uniform(3.0, 60.0), rng.uniform(0.050, 0.400)
    return replace(scenario, events=(Event("tool", 0.0, lasts_s, mass_kg, at_kg=moment_kg(scenario, rng)),))


def _sun(scenario: Scenario, rng: random.Random) -> Scenario:
    per_h = rng.uniform(4.0, 12.0) * scenario.scale.resolution_kg
    return replace(scenario, scale=replace(scenario.scale, drift_kg_per_h=per_h, sheltered=False))


def _missing(scenario: Scenario, rng: random.Random) -> Scenario:
    at_kg = moment_kg(scenario, rng)
    late = rng.random() < 0.5
    event = Event("backlog", 0.0, rng.uniform(5.0, 40.0), at_kg=at_kg) if late else Event(
        "lost", 0.0, rng.uniform(3.0, 20.0), at_kg=at_kg
    )  # fmt: skip
    return replace(scenario, events=(event,))


def _probe_dropout(scenario: Scenario, rng: random.Random) -> Scenario:
    probes = Probes(every_temperature=10, dropout=rng.uniform(0.05, 0.30))
    event = Event("lost", 0.0, rng.uniform(20.0, 90.0), device="probe", at_kg=moment_kg(scenario, rng))
    return replace(scenario, probes=probes, events=(event,))


def liquid(scenario: Scenario, rng: random.Random) -> Scenario:
    """The container must be warmer than the circuit, or its liquid would not go in."""
    air_c = min(scenario.ambient_c, 30.0)
    warm_c = air_c + rng.uniform(8.0, 18.0)
    warm = tuple(replace(one, temperature_c=warm_c, bath_c=None, ua_air_w_per_k=0.6) for one in scenario.containers)
    return replace(scenario, containers=warm, stages=(Stage("liquid", "high"),), ambient_c=air_c, cabin_c=air_c)


def _liquid_then_vapour(scenario: Scenario, rng: random.Random) -> Scenario:
    """The hose has a shut-off; without one, turning the container round loses a hose full of liquid."""
    wet = liquid(scenario, rng)
    until_kg = rng.uniform(0.4, 0.7) * scenario.target_kg
    warm = replace(wet.containers[0], bath_c=wet.containers[0].temperature_c + 4.0, bath_kg=2.5)
    return replace(
        wet,
        containers=(warm,),
        stages=(Stage("liquid", "high", until_kg=until_kg), Stage("vapour", "low")),
        hose=replace(scenario.hose, shutoff=True),
        cabin_c=wet.ambient_c + 4.0,
    )


CLASSES: Mapping[str, Alter] = {
    "clean": _clean,
    "can swap": can_swap,
    "hose tug": _tug,
    "bump": _bump,
    "tool": _tool,
    "drift in the sun": _sun,
    "missing samples": _missing,
    "probe dropout": _probe_dropout,
    "liquid": liquid,
    "liquid then vapour": _liquid_then_vapour,
}
