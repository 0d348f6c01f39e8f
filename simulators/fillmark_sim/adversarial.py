"""Random charges in which something happens that neither an estimator nor this simulator was made for.

Circuit, hose, container, scale and person are drawn as for the classes of `disturbed`. All of this happens in
workshops: common practice, no source; how much and how long are judgements.

| class | what happens |
|---|---|
| cracked valve | the port is open by 2 to 15 % for 10 to 45 s, then wide |
| pinched hose | 0 to 10 % of the port's opening is left for 5 to 20 s |
| can turned over | upside down for 6 to 25 s in mid-flow and back, with a pull of a hand at both turns |
| hand on the can | a hand holds the can for 15 to 90 s: 20 to 150 g, wavering, and it warms |
| bump at the call | a swing of 30 to 200 g just before the aim; both valves shut at once, entered 0.8 to 2.5 s late |
| shaking bench | 1 to 5 g of vibration near a multiple of the reading rate: it shows as a slow wave; heavy tails |
| held indication | the indication stands still until the load has changed by 2 to 6 steps |
| zero tracking | 0.1 to 0.5 steps a second are taken for drift; for the last 15 to 40 g the valve is throttled |
| lying flag | the no-motion flag is always or never set; the scale settles in 1 to 2.5 s |
| clock jump | the scale's clock jumps by 1.5 to 2.5 s either way, and back after 10 to 60 s or never |
| disordered packs | 30 % of the scale's and probes' packs come up to 4 s late, 30 % twice |
| compressor stops | for 40 to 80 s in mid-flow, while the engine runs on |
| back-flow | the same with a cool can in warm air: the circuit pushes refrigerant back |
| warm water | liquid from a can that stands in water of its own temperature |
| longer hose | 30 % longer than declared; half of them with liquid |
| probe in the sun | the air's probe shows 8 to 25 K too much |
| tool at the swap | 50 to 400 g are laid on the pan while a can is changed, and taken off 15 to 90 s later |
| scale off and on | off for 4 to 30 s in mid-flow; what stands on it then is its zero |
| liquid from cans | small cans emptied of liquid one after the other, each pushing out the hose with its last vapour |
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from dataclasses import replace

from fillmark_sim.disturbed import Alter, can_swap, liquid, moment_kg
from fillmark_sim.scenario import Event, Flag, Habits, Probes, Scenario

SHAKES_NEAR_HZ = 25.0
"""An idling engine of four cylinders at 750 a minute fires so often."""

LONGER = 1.3
MOST_WET_L = 1.0
"""So much of a container stands in the water of a bowl."""


def _signed(rng: random.Random, least: float, most: float) -> float:
    return rng.choice((-1.0, 1.0)) * rng.uniform(least, most)


def _cracked(scenario: Scenario, rng: random.Random) -> Scenario:
    """The clock runs from the first flow into the hose; the port follows some ten seconds later."""
    return replace(scenario, events=(Event("pinch", 0.0, rng.uniform(20.0, 55.0), share=rng.uniform(0.02, 0.15)),))


def _pinched(scenario: Scenario, rng: random.Random) -> Scenario:
    lasts_s, share = rng.uniform(5.0, 20.0), rng.uniform(0.0, 0.10)
    return replace(scenario, events=(Event("pinch", 0.0, lasts_s, share=share, at_kg=moment_kg(scenario, rng)),))


def _turned(scenario: Scenario, rng: random.Random) -> Scenario:
    lasts_s, at_kg = rng.uniform(6.0, 25.0), rng.uniform(0.1, 0.7) * scenario.target_kg
    pulls = [Event("tug", after_s, 2.0, _signed(rng, 0.05, 0.30), at_kg=at_kg) for after_s in (0.0, lasts_s)]
    return replace(scenario, events=(Event("turned", 1.0, lasts_s, at_kg=at_kg), *pulls))


def _hand(scenario: Scenario, rng: random.Random) -> Scenario:
    lasts_s, amount_kg = rng.uniform(15.0, 90.0), rng.uniform(0.020, 0.150)
    return replace(scenario, events=(Event("hand", 0.0, lasts_s, amount_kg, at_kg=moment_kg(scenario, rng)),))


def _bump_at_call(scenario: Scenario, rng: random.Random) -> Scenario:
    at_kg = scenario.target_kg - rng.uniform(0.002, 0.012)
    return replace(
        scenario,
        events=(Event("bump", 0.0, 4.0, _signed(rng, 0.030, 0.200), at_kg=at_kg),),
        technician=replace(scenario.technician, container_first_s=0.0, tap_s=rng.uniform(0.8, 2.5)),
    )


def _with_habits(scenario: Scenario, habits: Habits) -> Scenario:
    return replace(scenario, scale=replace(scenario.scale, habits=habits))


def _shaking(scenario: Scenario, rng: random.Random) -> Scenario:
    rate_hz = scenario.scale.rate_hz
    near_hz = round(SHAKES_NEAR_HZ / rate_hz) * rate_hz + _signed(rng, 0.02, 0.30)
    tail_kg = rng.uniform(0.2, 0.6) * scenario.scale.resolution_kg
    return _with_habits(scenario, Habits(shake_kg=rng.uniform(0.001, 0.005), shake_hz=near_hz, tail_kg=tail_kg))


def _held(scenario: Scenario, rng: random.Random) -> Scenario:
    return _with_habits(scenario, Habits(holds_kg=rng.uniform(2.0, 6.0) * scenario.scale.resolution_kg))


def _cool_can(scenario: Scenario, rng: random.Random) -> Scenario:
    """The container stands in a tub of water from the tap, so little flows."""
    tap_c = rng.uniform(16.0, 22.0)
    one = replace(scenario.containers[0], temperature_c=tap_c, bath_c=tap_c, bath_kg=4.0)
    return replace(scenario, containers=(one,))


def _tracking(scenario: Scenario, rng: random.Random) -> Scenario:
    """OIML R 76-1 allows half a step a second, and at zero only (from memory); this scale does it under any load."""
    creeps = Event(
        "pinch", 0.0, math.inf, share=rng.uniform(0.02, 0.15), at_kg=scenario.target_kg - rng.uniform(0.015, 0.040)
    )
    habits = Habits(tracks_kg_s=rng.uniform(0.1, 0.5) * scenario.scale.resolution_kg)
    return replace(_with_habits(scenario, habits), events=(creeps,))


def _lying(scenario: Scenario, rng: random.Random) -> Scenario:
    flags: tuple[Flag, ...] = ("always", "never")
    slow = replace(scenario.scale, settling_s=rng.uniform(1.0, 2.5))
    return _with_habits(replace(scenario, scale=slow), Habits(flag=rng.choice(flags)))


def _clock(scenario: Scenario, rng: random.Random) -> Scenario:
    lasts_s = rng.choice((math.inf, rng.uniform(10.0, 60.0)))
    shift_s = _signed(rng, 1.5, 2.5)
    return replace(scenario, events=(Event("clock", 0.0, lasts_s, shift_s=shift_s, at_kg=moment_kg(scenario, rng)),))


def _disordered(scenario: Scenario, rng: random.Random) -> Scenario:
    del rng
    return replace(scenario, radio=replace(scenario.radio, stray=0.3, stray_s=4.0, twice=0.3))


def _compressor(scenario: Scenario, rng: random.Random) -> Scenario:
    at_kg = rng.uniform(0.2, 0.95) * scenario.target_kg
    return replace(scenario, events=(Event("stall", 0.0, rng.uniform(40.0, 80.0), at_kg=at_kg),))


def _back_flow(scenario: Scenario, rng: random.Random) -> Scenario:
    warm_c = max(scenario.ambient_c, rng.uniform(28.0, 36.0))
    return _compressor(replace(_cool_can(scenario, rng), ambient_c=warm_c, cabin_c=warm_c + 4.0), rng)


def _warm_water(scenario: Scenario, rng: random.Random) -> Scenario:
    wet = liquid(scenario, rng)
    can = wet.containers[0]
    wet_l = min(can.volume_m3 * 1e3, MOST_WET_L)
    bath = replace(can, bath_c=can.temperature_c, bath_kg=rng.uniform(2.0, 3.0), ua_bath_w_per_k=8.0 + 9.0 * wet_l)
    return replace(wet, containers=(bath,))


def _longer_hose(scenario: Scenario, rng: random.Random) -> Scenario:
    wet = liquid(scenario, rng) if rng.random() < 0.5 else scenario
    declared_m = round(wet.hose.length_m / LONGER, 2)
    return replace(wet, hose=replace(wet.hose, declared_length_m=declared_m))


def _sunny_probe(scenario: Scenario, rng: random.Random) -> Scenario:
    return replace(scenario, probes=Probes(every_temperature=10, sun_k=rng.uniform(8.0, 25.0)))


def _tool_at_swap(scenario: Scenario, rng: random.Random) -> Scenario:
    after_s, lasts_s, mass_kg = rng.uniform(0.0, 4.0), rng.uniform(15.0, 90.0), rng.uniform(0.050, 0.400)
    return replace(can_swap(scenario, rng), events=(Event("tool", after_s, lasts_s, mass_kg, at_swap=True),))


def _off_and_on(scenario: Scenario, rng: random.Random) -> Scenario:
    return replace(scenario, events=(Event("switch_off", 0.0, rng.uniform(4.0, 30.0), at_kg=moment_kg(scenario, rng)),))


def _liquid_from_cans(scenario: Scenario, rng: random.Random) -> Scenario:
    return liquid(can_swap(scenario, rng), rng)


CLASSES: Mapping[str, Alter] = {
    "cracked valve": _cracked,
    "pinched hose": _pinched,
    "can turned over": _turned,
    "hand on the can": _hand,
    "bump at the call": _bump_at_call,
    "shaking bench": _shaking,
    "held indication": _held,
    "zero tracking": _tracking,
    "lying flag": _lying,
    "clock jump": _clock,
    "disordered packs": _disordered,
    "compressor stops": _compressor,
    "back-flow": _back_flow,
    "warm water": _warm_water,
    "longer hose": _longer_hose,
    "probe in the sun": _sunny_probe,
    "tool at the swap": _tool_at_swap,
    "scale off and on": _off_and_on,
    "liquid from cans": _liquid_from_cans,
}
