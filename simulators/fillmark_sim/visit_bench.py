"""What a visit works on: which plant is connected, what stands on the scale, and what the truth says of each step."""

from __future__ import annotations

import random

from fillmark_sim.dry_plant import DryPlant
from fillmark_sim.fluid import ICE_POINT_K, fluid
from fillmark_sim.opening import opening
from fillmark_sim.recovery import CylinderModel, RecoveryPlant
from fillmark_sim.vacuum.circuit import Given, leak_pa_m3_s
from fillmark_sim.vacuum.holds import verdict
from fillmark_sim.vacuum.oil import Dissolved
from fillmark_sim.vacuum.water import GAS_J_PER_MOLK, saturation_pa
from fillmark_sim.visit_scenario import Evacuate, Recover, VisitScenario
from fillmark_sim.visit_truth import VisitTruth


class NothingToRecoverError(ValueError):
    """A recovery of a circuit that the scenario declares empty."""


class VisitBench:
    """State of a visit and the deeds of its technician. See `visit.Visit` for the arguments."""

    def __init__(self, scenario: VisitScenario, seed: int, start_s: float, bay: str) -> None:
        self.scenario = scenario
        self.seed = seed
        self.name = bay
        self.time_s = start_s
        self.fluid = fluid(scenario.circuit.refrigerant)
        self.truth = VisitTruth(scenario.name, seed, scenario.target_kg, scenario.scale_honest)
        self.recovering: RecoveryPlant | None = None
        self.dry: DryPlant | None = None
        self.gauge_on = False
        self.on_pan: CylinderModel | None = None
        self.actions: list[tuple[float, dict[str, object]]] = []
        self._rest_pa: list[float] = []
        self._began = (0.0, 0.0)

    def rng(self, part: str) -> random.Random:
        """Chance of one part of the visit."""
        return random.Random(f"{self.scenario.name}/{self.seed}/{part}")

    def act(self, type_: str, **fields: object) -> None:
        """Enter an action, a little after the deed."""
        self.actions.append((self.time_s + self.scenario.technician.tap_s, {"type": type_, **fields}))

    def open_job(self) -> None:
        """Enter the job as the scenario declares it."""
        data = self.scenario
        compound = {"gauge": ["vacuum/pressure"], "barometer": f"{data.atmosphere_pa / 100.0:g} hPa"}
        step = "1 inHg" if data.gauge.compound else f"{data.gauge.resolution_pa:g} Pa"
        self.act(
            "job.open",
            **opening(data),
            vacuum_gauge={"resolution": step, "kind": "compound" if data.gauge.compound else "absolute"},
            pump={
                "speed": f"{data.pump.speed_m3_s * 6e4:g} L/min",
                "ultimate": f"{data.pump.ultimate_pa:g} Pa",
                "hose": {"length": f"{data.pump.hose_m:g} m", "bore": f"{data.pump.bore_m * 1e3:g} mm"},
            },
            limits={"test_pressure_abs": data.test_limit},
            **(compound if data.gauge.compound else {}),
        )

    # Recovery.

    def connect_machine(self, step: Recover) -> RecoveryPlant:
        """Connect the recovery machine to the circuit as it came.

        Raises:
            NothingToRecoverError: the scenario's circuit comes empty.
        """
        data, circuit = self.scenario, self.scenario.circuit
        if circuit.initial_kg <= 0.0:
            raise NothingToRecoverError(f"{data.name}: give circuit.initial_kg, or leave the recovery out")
        self.recovering = RecoveryPlant(
            self.fluid, volume_m3=circuit.volume_m3, metal_j_per_k=circuit.metal_j_per_k,
            charge_kg=circuit.initial_kg, condition=data.condition, ambient_k=data.ambient_c + ICE_POINT_K,
            speed_m3_s=step.speed_m3_s, cylinders=step.cylinders,
        )  # fmt: skip
        return self.recovering

    def weigh(self, cylinder: CylinderModel | None) -> None:
        """Stand a cylinder on the scale, or take it off."""
        self.on_pan = cylinder

    def note_rest(self, pressure_pa: float) -> None:
        """How far the pressure has risen after a pull-down."""
        self._rest_pa.append(pressure_pa)

    def finish_recovery(self) -> None:
        """Write down what the recovery has come to."""
        plant = self.recovering
        if plant is None:
            return
        self.truth.steps["recovery"] = {
            "charge_kg": self.scenario.circuit.initial_kg,
            "recovered_kg": sum(one.vessel.mass_kg - one.data.content_kg for one in plant.cylinders),
            "left_in_oil_kg": plant.oil.mass_kg,
            "left_in_machine_kg": plant.machine_kg,
            "left_as_vapour_kg": plant.circuit.mass_kg,
            "pressure_pa": plant.pressure_pa,
            "rest_pressure_pa": [round(one) for one in self._rest_pa],
            "cylinders": [
                {"id": one.data.id, "content_kg": round(one.vessel.mass_kg, 4), "liquid_full_kg": round(one.most_kg, 3)}
                for one in plant.cylinders
            ],
        }

    # Without refrigerant.

    def dry_plant(self) -> DryPlant:
        """The circuit without its refrigerant; a vapour that recovery left is still in it."""
        if self.dry is None:
            plant = self._new_dry()
            if self.recovering is not None:
                plant.circuit.air_mol = 0.0
                plant.circuit.refrigerant_mol = self.recovering.circuit.mass_kg / plant.circuit.refrigerant_kg_per_mol
            self.dry, self.recovering = plant, None
        return self.dry

    def open_circuit(self) -> None:
        """Let air in: whatever vapour was left is lost."""
        self.dry = self._new_dry()
        self.recovering = None

    def _new_dry(self) -> DryPlant:
        data, condition = self.scenario, self.scenario.condition
        oil = None if self.recovering is None else self.recovering.oil
        if oil is None and condition.dissolved_kg > 0.0:
            per_pa = condition.oil_kg * condition.soluble_per_pa
            oil = Dissolved(condition.dissolved_kg, tau_s=condition.oil_tau_s, kg_per_pa=per_pa)
        return DryPlant(
            volume_m3=data.circuit.volume_m3, ambient_c=data.ambient_c, condition=condition, oil=oil,
            kg_per_mol=GAS_J_PER_MOLK / self.fluid.gas_constant, pump=data.pump, atmosphere_pa=data.atmosphere_pa,
        )  # fmt: skip

    def seal(self) -> None:
        """Charging begins: gauge and pump are off."""
        self.gauge_on = False
        self.recovering = self.dry = None

    def begin_standing(self, step: str) -> None:
        """A standing test begins."""
        plant = self.dry_plant()
        self._began = (plant.pressure_pa, plant.circuit.gas_k)
        self.truth.mark(f"{step}-shut", self.time_s)

    def end_standing(self, step: str) -> None:
        """Write down what a standing test was really like."""
        plant = self.dry_plant()
        circuit, (first_pa, first_k) = plant.circuit, self._began
        leaked, volatile = circuit.rise_pa(circuit.given.leak), circuit.rise_pa(circuit.given.volatile)
        found = verdict(circuit.leak_q, volatile if step == "vacuum_hold" else 0.0)
        self.truth.steps[step] = {
            "truth": found,
            "leak_q_vacuum_pa_m3_s": circuit.leak_q,
            "leak_q_here_pa_m3_s": leak_pa_m3_s(circuit.leak_q, circuit.pressure_pa, circuit.atmosphere_pa),
            "first_pa": first_pa, "last_pa": circuit.pressure_pa, "first_k": first_k, "last_k": circuit.gas_k,
            "leak_rise_pa": leaked, "volatile_rise_pa": volatile,
            "temperature_rise_pa": circuit.pressure_pa - first_pa - leaked - volatile,
            "water_kg": circuit.water_kg,
            "oil_kg": 0.0 if circuit.refrigerant_oil is None else circuit.refrigerant_oil.mass_kg,
        }  # fmt: skip

    def last_minute(self) -> None:
        """The last minute of an evacuation begins: from here on its sources are counted."""
        plant = self.dry_plant()
        plant.circuit.given = Given()
        self._began = (plant.pressure_pa, self.time_s)

    def end_evacuation(self, step: Evacuate) -> None:
        """Write down what holds the pressure up, from the gas (Pa·m³/s) that came in in the last minute."""
        plant = self.dry_plant()
        circuit, given = plant.circuit, plant.circuit.given
        seconds = self.time_s - self._began[1]
        sources = {
            "leak": circuit.rise_pa(given.leak) * circuit.volume_m3 / seconds,
            "water": circuit.rise_pa(given.water) * circuit.volume_m3 / seconds,
            "oil": circuit.rise_pa(given.refrigerant) * circuit.volume_m3 / seconds,
        }
        pressure = circuit.pressure_pa
        throughput = plant.pump.throughput_pa_m3_s(pressure)
        largest = max(sources, key=lambda name: sources[name])
        falling = (self._began[0] - pressure) / seconds
        own = plant.pump.ultimate_pa / pressure > 0.5
        limited = "pump" if own else largest if falling < 0.2 * throughput / circuit.volume_m3 else "still-falling"
        self.truth.steps["evacuation"] = {
            "pressure_pa": pressure, "target_pa": step.target_pa, "limited_by": limited,
            "speed_here_m3_s": throughput / pressure, "speed_nominal_m3_s": plant.pump.data.speed_m3_s,
            "ultimate_pa": plant.pump.ultimate_pa, "water_kg": circuit.water_kg,
            "coldest_k": plant.temperature_k - self.scenario.condition.cold_below_k,
            "water_saturation_pa": saturation_pa(plant.temperature_k - self.scenario.condition.cold_below_k),
            **{f"{name}_pa_m3_s": value for name, value in sources.items()},
        }  # fmt: skip
