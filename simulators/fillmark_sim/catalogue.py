"""The demo scenarios: data only. Vehicles and settings are invented; sizes are of the usual order for such vehicles."""

from __future__ import annotations

from fillmark_sim.scenario import (
    Circuit,
    Container,
    Event,
    Habits,
    Hose,
    Probes,
    Scale,
    Scenario,
    Stage,
    Technician,
)

FEW_PROBES = Probes(every_temperature=20)


def _can(id_: str, net_kg: float, volume_l: float, temperature_c: float, bath_c: float | None = 42.0) -> Container:
    """A small steel can, by default in a pot of warm water on the pan."""
    return Container(
        id_, net_kg, volume_l * 1e-3, metal_kg=0.12 + 0.1 * volume_l, temperature_c=temperature_c,
        bath_c=bath_c, bath_kg=2.5, ua_bath_w_per_k=9.0 + 8.0 * volume_l,
    )  # fmt: skip


DEMOS: tuple[Scenario, ...] = (
    Scenario(
        name="harvester-clean",
        title="Harvester cab, R-134a: a clean charge from one can in warm water",
        circuit=Circuit("R-134a", 0.58, 0.62, 2.6e-3),
        containers=(_can("C1", 0.75, 0.9, 24.0),),
        ambient_c=24.0,
    ),
    Scenario(
        name="minibus-can-swap",
        title="Minibus, R-134a: two cans and a part of the third; the hose has no shut-off",
        circuit=Circuit("R-134a", 0.88, 0.92, 3.4e-3, displacement_m3=150e-6, ua_evaporator=230.0),
        containers=tuple(_can(f"C{n}", 0.34, 0.42, 21.0, 45.0) for n in (1, 2, 3)),
        hose=Hose(1.5, 4.8e-3),
        probes=FEW_PROBES,
        ambient_c=21.0,
    ),
    Scenario(
        name="van-cold-can",
        title="Delivery van with two evaporators in winter, R-134a: the can goes cold and stalls, then stands in water",
        circuit=Circuit("R-134a", 0.66, 0.70, 3.2e-3, ua_evaporator=260.0, cutout_low_pa=2.3e5),
        containers=(_can("C1", 0.75, 0.9, 8.0, None),),
        hose=Hose(1.8, 4.8e-3, shutoff=True),
        technician=Technician(warms_with_c=40.0, stalls_s=35.0),
        probes=FEW_PROBES,
        ambient_c=6.0,
        cabin_c=20.0,
    ),
    Scenario(
        name="tractor-tug-bump",
        title="Tractor, R-134a: the hose is tugged, the bench is bumped",
        circuit=Circuit("R-134a", 0.78, 0.83, 2.9e-3),
        containers=(_can("C1", 0.9, 1.1, 26.0),),
        events=(
            Event("bump", 60.0, 4.0, 0.080),
            Event("tug", 110.0, 25.0, -0.028),
            Event("bump", 190.0, 4.0, -0.120),
            Event("tug", 240.0, 18.0, 0.017),
        ),
        ambient_c=26.0,
        cabin_c=30.0,
    ),
    Scenario(
        name="excavator-probe-dropout",
        title="Excavator, R-134a: the probes vanish for a minute and lose readings before and after",
        circuit=Circuit("R-134a", 0.68, 0.72, 2.7e-3),
        containers=(_can("C1", 0.75, 0.9, 29.0),),
        probes=Probes(dropout=0.06),
        events=(Event("lost", 90.0, 70.0, device="probe"), Event("lost", 250.0, 25.0, device="probe")),
        ambient_c=29.0,
        cabin_c=34.0,
    ),
    Scenario(
        name="electric-car-backlog",
        title="Electric car's heat pump, R-1234yf: the scale's radio is out, the readings come later",
        circuit=Circuit("R-1234yf", 0.73, 0.77, 3.1e-3, displacement_m3=34e-6, speed_rps=75.0),
        containers=(_can("C1", 0.90, 1.2, 20.0, 40.0),),
        hose=Hose(1.8, 6.0e-3, port_m=1.25e-3),
        events=(Event("backlog", 120.0, 45.0), Event("backlog", 230.0, 20.0)),
        ambient_c=20.0,
    ),
    Scenario(
        name="snow-groomer-overshoot",
        title="Snow groomer, R-134a: the technician looks away and closes half a minute late",
        circuit=Circuit("R-134a", 0.70, 0.74, 2.8e-3),
        containers=(_can("C1", 0.90, 1.1, 18.0, 44.0),),
        technician=Technician(policy="inattentive", late_s=28.0),
        aim="max",
        ambient_c=15.0,
        cabin_c=20.0,
    ),
    Scenario(
        name="loader-wrong-refrigerant",
        title="Forest loader, R-1234yf on the label of the can, something like R-290 in it: liquid, high side",
        circuit=Circuit("R-1234yf", 0.54, 0.58, 2.4e-3),
        containers=(
            Container("C1", 0.42, 1.1e-3, metal_kg=0.25, temperature_c=24.0, holds="R-290", declared_net_kg=0.75),
        ),
        stages=(Stage("liquid", "high"),),
        technician=Technician(
            policy="by_hand",
            close_at_kg=0.12,
            equalise_s=240.0,
            recovers_hose=True,
            note="Stopped to look at the static pressure.",
        ),
        hose=Hose(1.5, 4.8e-3),
        ambient_c=18.0,
        cabin_c=18.0,
    ),
    Scenario(
        name="city-bus-liquid",
        title="City bus, R-134a: liquid from a warm cylinder through the high side, the hose recovered at the end",
        circuit=Circuit("R-134a", 3.95, 4.05, 9.0e-3, metal_j_per_k=16000.0),
        containers=(
            Container("C1", 8.0, 12.0e-3, metal_kg=6.5, temperature_c=37.0, ua_air_w_per_k=5.0, valve_m=5.0e-3),
        ),
        stages=(Stage("liquid", "high"),),
        hose=Hose(2.5, 8.0e-3, port_m=1.25e-3),
        scale=Scale(resolution_kg=0.005, noise_kg=0.001, capacity_kg=50.0, drift_kg_per_h=0.002),
        technician=Technician(recovers_hose=True),
        probes=FEW_PROBES,
        ambient_c=17.0,
        cabin_c=17.0,
    ),
    Scenario(
        name="telehandler-silent-swap",
        title="Telehandler, R-134a: a spanner is laid on the pan, then a can is swapped without a word",
        circuit=Circuit("R-134a", 0.54, 0.58, 2.5e-3),
        containers=(_can("C1", 0.34, 0.42, 22.0, 45.0), _can("C2", 0.34, 0.42, 22.0, 45.0)),
        hose=Hose(1.5, 4.8e-3, shutoff=True),
        technician=Technician(swaps_silently=True),
        events=(Event("tool", 70.0, 22.0, 0.185),),
        scale_honest=False,
        ambient_c=22.0,
    ),
    Scenario(
        name="camper-liquid-then-vapour",
        title="Camper van, R-1234yf: liquid through the high side, then vapour through the low side",
        circuit=Circuit("R-1234yf", 0.55, 0.59, 2.5e-3),
        containers=(_can("C1", 0.75, 1.0, 33.0, 38.0),),
        stages=(Stage("liquid", "high", until_kg=0.3), Stage("vapour", "low")),
        hose=Hose(1.8, 4.8e-3, shutoff=True),
        ambient_c=19.0,
        cabin_c=24.0,
    ),
    Scenario(
        name="dumper-shaking-bench",
        title="Dumper, R-134a: the scale stands on its running board, which shakes with the idling engine",
        circuit=Circuit("R-134a", 0.60, 0.64, 2.6e-3),
        containers=(_can("C1", 0.75, 0.9, 25.0),),
        scale=Scale(habits=Habits(shake_kg=3e-3, shake_hz=25.15, tail_kg=0.3e-3)),
        ambient_c=25.0,
        cabin_c=29.0,
    ),
    Scenario(
        name="asphalt-paver-flows-back",
        title="Asphalt paver on a hot day, R-134a: the compressor stops, and the circuit fills the cool can",
        circuit=Circuit("R-134a", 0.48, 0.52, 2.4e-3),
        containers=(
            Container(
                "C1", 0.90, 1.1e-3, metal_kg=0.23, temperature_c=20.0, bath_c=20.0, bath_kg=4.0, ua_bath_w_per_k=18.0
            ),
        ),
        events=(Event("stall", 0.0, 40.0, at_kg=0.25),),
        ambient_c=33.0,
        cabin_c=37.0,
    ),
)
