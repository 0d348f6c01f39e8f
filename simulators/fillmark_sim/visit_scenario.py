"""What a visit of several steps declares: frozen data only. SI units."""

from __future__ import annotations

from dataclasses import dataclass, field

from fillmark_sim.scenario import Scenario
from fillmark_sim.vacuum.gauge import GaugeData
from fillmark_sim.vacuum.pump import PumpData
from fillmark_sim.vacuum.weather import Shape


@dataclass(frozen=True, slots=True)
class Condition:
    """What the circuit is really like, besides its refrigerant.

    Attributes:
        leak_q: leak, by what it passes into a vacuum, Pa·m³/s.
        water_kg: free water at the coldest spot once the circuit has been open.
        spot_wall_j_per_k, spot_ua_w_per_k, spot_speed_m3_s: of that spot (see WetSpot).
        bound_kg, bound_tau_s: water bound in the oil, and the time constant with which it leaves.
        cold_below_k: how much colder than the gas the coldest spot is.
        oil_kg: oil in the circuit.
        soluble_per_pa: refrigerant that a kilogram of oil holds for each pascal of its vapour.
        oil_tau_s: time constant with which refrigerant leaves the oil.
        oil_removed_m3: oil that comes out with the refrigerant.
        dissolved_kg: refrigerant still in the oil of a visit that begins without a recovery.
    """

    leak_q: float = 0.0
    water_kg: float = 0.0
    spot_wall_j_per_k: float = 60.0
    spot_ua_w_per_k: float = 0.4
    spot_speed_m3_s: float = 1e-3
    bound_kg: float = 0.0
    bound_tau_s: float = 1800.0
    cold_below_k: float = 0.0
    oil_kg: float = 0.12
    soluble_per_pa: float = 4.0e-7
    oil_tau_s: float = 2400.0
    oil_removed_m3: float = 18e-6
    dissolved_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A recovery cylinder: its content at the start, and what its shoulder says."""

    id: str = "RC1"
    content_kg: float = 2.0
    tare_kg: float = 6.4
    water_capacity_m3: float = 12.0e-3


@dataclass(frozen=True, slots=True)
class Recover:
    """Draw the refrigerant out.

    Attributes:
        cylinders: used one after the other.
        speed_m3_s: displacement of the machine.
        down_to_pa: absolute pressure at which it stops.
        waits_s: how long the technician then waits for the oil.
        again_from_pa: above that he pulls down again.
        most_pulls: pull-downs at most.
    """

    cylinders: tuple[Cylinder, ...] = (Cylinder(),)
    speed_m3_s: float = 2.5e-4
    down_to_pa: float = 35e3
    waits_s: float = 240.0
    again_from_pa: float = 50e3
    most_pulls: int = 2


@dataclass(frozen=True, slots=True)
class Repair:
    """Open the circuit: air comes in. Each part with the oil its new one is given, m³."""

    parts: tuple[tuple[str, float], ...] = (("drier", 15e-6),)
    lasts_s: float = 60.0


@dataclass(frozen=True, slots=True)
class Drift:
    """How the temperature wanders during a step, K."""

    change_k: float = 0.0
    shape: Shape = "linear"
    lasts_s: float = 1800.0


@dataclass(frozen=True, slots=True)
class NitrogenTest:
    """Fill with dry nitrogen, shut, watch."""

    fill_pa: float = 9.0e5
    lasts_s: float = 900.0
    drift: Drift = Drift()


@dataclass(frozen=True, slots=True)
class Evacuate:
    """Pump for so long."""

    lasts_s: float = 1500.0
    target_pa: float = 50.0
    drift: Drift = Drift()


@dataclass(frozen=True, slots=True)
class Hold:
    """Shut the pump off and watch."""

    lasts_s: float = 1200.0
    drift: Drift = Drift()


@dataclass(frozen=True, slots=True)
class Charge:
    """Charge as the scenario's containers and stages say, and let it run for `performs_s` as a performance test."""

    performs_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Skip:
    """Leave a step out, with a reason."""

    step: str
    reason: str


VisitStep = Recover | Repair | NitrogenTest | Evacuate | Hold | Charge | Skip


@dataclass(frozen=True, slots=True)
class VisitScenario(Scenario):
    """A visit. `circuit.initial_kg` is what is in it when it comes; charging begins from nothing.

    Attributes:
        steps: in order.
        condition: of the circuit.
        pump: vacuum pump and its hose.
        gauge: vacuum gauge.
        vacuum_every_s, probe_every_s: between two readings outside charging.
        test_limit: what the job declares as the highest test pressure.
        atmosphere_pa: air pressure; declared with a compound gauge.
    """

    steps: tuple[VisitStep, ...] = ()
    condition: Condition = field(default_factory=Condition)
    pump: PumpData = field(default_factory=PumpData)
    gauge: GaugeData = field(default_factory=GaugeData)
    vacuum_every_s: float = 5.0
    probe_every_s: float = 10.0
    test_limit: str = "11 bar"
    atmosphere_pa: float = 101325.0
