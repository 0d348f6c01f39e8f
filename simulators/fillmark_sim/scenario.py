"""What a scenario declares: frozen data only. SI units, masses in kg, temperatures of air and probes in °C."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Draw = Literal["vapour", "liquid"]
Port = Literal["low", "high"]
PolicyName = Literal["obeys", "by_hand", "inattentive", "counts_cans"]
EventKind = Literal[
    "tug", "bump", "tool", "hand", "lift", "lost", "backlog", "switch_off", "clock", "pinch", "turned", "stall"
]
Flag = Literal["honest", "always", "never"]


@dataclass(frozen=True, slots=True)
class Container:
    """A can or cylinder.

    Attributes:
        id: name in the actions.
        net_kg: refrigerant in it at the start.
        volume_m3: inner volume.
        metal_kg: empty weight on the pan.
        metal_j_per_kgk: specific heat of the metal (steel 490, aluminium 900).
        temperature_c: at the start.
        ua_air_w_per_k: to air.
        bath_c: water bath it stands in from the start, None without.
        bath_kg: water in the bath.
        ua_bath_w_per_k: to the bath.
        valve_m: bore of its valve or tap.
        holds: what is really in it, when not what the label says.
        declared_net_kg: what the technician enters, net_kg when None.
    """

    id: str
    net_kg: float
    volume_m3: float
    metal_kg: float = 0.12
    metal_j_per_kgk: float = 490.0
    temperature_c: float = 20.0
    ua_air_w_per_k: float = 0.6
    bath_c: float | None = None
    bath_kg: float = 1.5
    ua_bath_w_per_k: float = 12.0
    valve_m: float = 2.0e-3
    holds: str | None = None
    declared_net_kg: float | None = None


@dataclass(frozen=True, slots=True)
class Hose:
    """The charging hose, with the service port at its far end.

    `declared_length_m` and `declared_bore_m` are what the technician enters, length_m and bore_m when None.
    """

    length_m: float = 1.8
    bore_m: float = 4.8e-3
    shutoff: bool = False
    port_m: float = 1.3e-3
    wall_j_per_mk: float = 60.0
    ua_w_per_mk: float = 0.4
    declared_length_m: float | None = None
    declared_bore_m: float | None = None


@dataclass(frozen=True, slots=True)
class Circuit:
    """The vehicle's circuit and its engine.

    Displacement in m³ a revolution; UA in W/K; cut-outs in Pa absolute.
    """

    refrigerant: str
    charge_min_kg: float
    charge_max_kg: float
    volume_m3: float
    initial_kg: float = 0.0
    displacement_m3: float = 130e-6
    speed_rps: float = 22.0
    ua_evaporator: float = 200.0
    ua_condenser: float = 320.0
    metal_j_per_k: float = 4000.0
    expansion_m: float = 2.6e-3
    cutout_low_pa: float = 2.0e5
    cutin_low_pa: float = 3.0e5
    cutout_high_pa: float = 28.0e5
    cutin_high_pa: float = 21.0e5


@dataclass(frozen=True, slots=True)
class Habits:
    """What a scale does besides weighing, and what no data sheet says of it.

    Attributes:
        shake_kg: amplitude of the bench's vibration that is left in the indication.
        shake_hz: its mean frequency; read at a lower rate, it shows as a slow wave.
        shake_width_hz: how much that frequency wanders.
        tail_kg: noise with heavy tails: Student's t with two degrees of freedom, times this.
        holds_kg: the indication stands still until the load has changed by so much.
        tracks_kg_s: zero tracking at any load: what changes more slowly is taken for drift and not shown.
        flag: whether the no-motion flag tells the truth.
    """

    shake_kg: float = 0.0
    shake_hz: float = 25.0
    shake_width_hz: float = 0.02
    tail_kg: float = 0.0
    holds_kg: float = 0.0
    tracks_kg_s: float = 0.0
    flag: Flag = "honest"


@dataclass(frozen=True, slots=True)
class Scale:
    """A weighing platform. Offsets in kg, times in s.

    Its error of linearity is a gain (relative) and a bow: one sine wave of `bow_kg` over half the capacity. `sheltered`
    is what the technician enters of sun and draught.
    """

    resolution_kg: float = 0.001
    noise_kg: float = 0.0003
    settling_s: float = 0.4
    drift_kg_per_h: float = 0.0005
    capacity_kg: float = 15.0
    accuracy_class: str = "III"
    rate_hz: float = 2.0
    tug_kg_per_bar: float = 0.00005
    rest_kg: float = 0.0
    gain_error: float = 0.0
    bow_kg: float = 0.0
    sheltered: bool = True
    habits: Habits | None = None


@dataclass(frozen=True, slots=True)
class Probes:
    """Pressure and temperature probes. In the sun, the one for the air shows `sun_k` too much."""

    pressure_noise_pa: float = 800.0
    pressure_step_pa: float = 500.0
    temperature_noise_k: float = 0.08
    clamp_lag_s: float = 8.0
    every_pressure: int = 2
    every_temperature: int = 8
    dropout: float = 0.0
    sun_k: float = 0.0


@dataclass(frozen=True, slots=True)
class Radio:
    """Transport: mean delay, its scatter, and how many readings fit a pack of backlog.

    A share `stray` of the packs of readings takes up to `stray_s` longer, and a share `twice` comes a second time.
    """

    delay_s: float = 0.12
    scatter_s: float = 0.04
    backlog_records: int = 120
    declared_delay_s: float = 0.5
    stray: float = 0.0
    stray_s: float = 0.0
    twice: float = 0.0


@dataclass(frozen=True, slots=True)
class Event:
    """A disturbance.

    It begins `after_s` after refrigerant first flows, or after `at_kg` are in the circuit, or after a container is
    lifted off for the first time (`at_swap`).

    | kind | what happens while it lasts |
    |---|---|
    | tug | offset amount_kg on the pan, growing evenly over ramp_s |
    | bump | swing of amount_kg that dies away |
    | tool | amount_kg laid on the pan, growing evenly over ramp_s |
    | hand | a hand holds the container: presses with about amount_kg, trembles, and warms it |
    | lift | the container stands off the pan |
    | lost | readings of `device` vanish |
    | backlog | they arrive afterwards |
    | switch_off | the scale is off, and takes what stands on it for zero when it comes back |
    | clock | the scale's clock is ahead by shift_s |
    | pinch | only `share` of the port's opening is left |
    | turned | the container stands the other way up: liquid for vapour, or vapour for liquid |
    | stall | the compressor stands still although the engine runs |
    """

    kind: EventKind
    after_s: float
    lasts_s: float
    amount_kg: float = 0.0
    device: str = "scale"
    at_kg: float | None = None
    ramp_s: float = 0.0
    share: float = 0.0
    shift_s: float = 0.0
    at_swap: bool = False


@dataclass(frozen=True, slots=True)
class Stage:
    """One way of filling, until the true charged mass reaches `until_kg` (None: to the aim), or flow stops."""

    draw: Draw = "vapour"
    port: Port = "low"
    until_kg: float | None = None
    purge_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Technician:
    """A person: how long things take, and when the valve is closed.

    Attributes:
        policy: "obeys" closes `reaction_s` (scatter `scatter_s`) after a call; "by_hand" when the true charged mass
            reaches `close_at_kg`; "inattentive" `late_s` after either; "counts_cans" as `hand` judges, without a scale.
        tap_s: from a deed to entering it.
        close_at_kg: the aim when None.
        container_first_s: he closes the container first, and the port so much later, while the circuit pulls the hose.
        purge_s: how long he blows out a hose that air has come into.
        swaps_silently: he enters neither unmount nor mount when he changes cans.
        recovers_hose: at the end, with a recovery machine that weighs.
        equalise_s: how long he waits after the last valve before he ends the step.
        warms_with_c: water in which he stands a container that stalls.
        stalls_s: without flow for so long he sees to the container.
        note: what he writes down at the end.
    """

    policy: PolicyName = "obeys"
    reaction_s: float = 1.5
    scatter_s: float = 0.25
    tap_s: float = 0.2
    close_at_kg: float | None = None
    late_s: float = 0.0
    container_first_s: float | None = None
    purge_s: float = 1.5
    swaps_silently: bool = False
    recovers_hose: bool = False
    equalise_s: float = 0.0
    warms_with_c: float | None = None
    stalls_s: float = 15.0
    note: str = ""


@dataclass(frozen=True, slots=True)
class Scenario:
    """Everything that decides a run, but the seed."""

    name: str
    title: str
    circuit: Circuit
    containers: tuple[Container, ...]
    stages: tuple[Stage, ...] = (Stage(),)
    hose: Hose = field(default_factory=Hose)
    scale: Scale = field(default_factory=Scale)
    probes: Probes = field(default_factory=Probes)
    radio: Radio = field(default_factory=Radio)
    technician: Technician = field(default_factory=Technician)
    events: tuple[Event, ...] = ()
    ambient_c: float = 22.0
    cabin_c: float = 26.0
    aim: str = "mid"
    aim_kg: float | None = None
    scale_honest: bool = True

    @property
    def target_kg(self) -> float:
        """The aim as a mass."""
        low, high = self.circuit.charge_min_kg, self.circuit.charge_max_kg
        if self.aim_kg is not None:
            return self.aim_kg
        return {"min": low, "mid": (low + high) / 2.0, "max": high}[self.aim]
