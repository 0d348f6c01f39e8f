"""A running circuit from first principles: compressor, condenser, expansion device, evaporator and the charge in them.

* Compressor: displaced volume with a clearance's re-expansion and internal leakage; isentropic work over an efficiency.
* Condenser: an effectiveness against its air, of the part that is not flooded; liquid backed up in it is subcooled.
* Evaporator: wet fins against humid air by enthalpy, of the part that is wetted; vapour is superheated in the rest.
* Expansion: a valve that steers superheat (its hunting is left out), or an orifice tube whose flow chokes where the
  liquid flashes.
* Charge: each side holds what it has been given; receiver or accumulator keep the spare part. So undercharge shows
  where it does in life: no liquid at the end of the condenser first, a starved evaporator then.
* What does not condense gathers in the condenser: it adds its partial pressure and blankets the tubes.

Temperatures °C, pressures absolute Pa, masses kg, SI otherwise. Two-phase zones have one mean liquid share each.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from fillmark_sim import moist_air
from fillmark_sim.running_fluid import Row, Table, table

LIQUID_SHARE_EVAPORATOR = 0.12
LIQUID_SHARE_CONDENSER = 0.25
FLASH_SHARE = 0.7
GAS_CONSTANT = 8.314462618
EVAPORATOR_HEAT = 4000.0
CONDENSER_HEAT = 2500.0
DESUPERHEATING = 1.1
BLANKET = 3.0
DRY_TRANSFER = 2.5
LIQUID_SHARE_OF_UA = 0.35
LINE_GAIN = 0.04
VALVE_GAIN = 3e-4
SHUT_VALVE = 0.03
HIGH_CUT_OUT_PA = 2.9e6
HIGH_CUT_IN_PA = 2.1e6
SAFETY_C = -24.0
ACCUMULATOR_SHARE = 0.85
FLOOD_S = 10.0


@dataclass(frozen=True, slots=True)
class Plant:
    """The design of a circuit.

    Attributes:
        valve: an expansion valve; else an orifice tube.
        variable: the compressor turns itself down; else a clutch or contactor cycles it.
        receiver_m3: between condenser and subcooling pass, 0 without.
        accumulator_m3: before the compressor, 0 without.
        pass_share: part of the condenser that subcools, behind the receiver; `flooded_share`: without a receiver.
        evaporator_air_kg_s: dry air through the evaporator; `condenser_air_w_k`: heat capacity flow at the condenser.
        coil_effect: how far the air comes to the state at the fins.
        off_c, on_c: between which the control cycles: dew temperatures at the low pressure (a switch), or of the fins
            (a thermostat).
        thermostat: the control feels the fins.
    """

    refrigerant: str
    valve: bool
    variable: bool = False
    swept_m3_s: float = 3.0e-3
    clearance: float = 0.045
    filling: float = 0.85
    isentropic: float = 0.62
    condenser_m3: float = 0.7e-3
    condenser_air_w_k: float = 420.0
    condenser_ua: float = 420.0
    evaporator_m3: float = 0.7e-3
    evaporator_air_kg_s: float = 0.13
    evaporator_ua: float = 900.0
    coil_effect: float = 0.85
    line_m3: float = 0.06e-3
    receiver_m3: float = 0.0
    accumulator_m3: float = 0.0
    pass_share: float = 0.0
    flooded_share: float = 0.15
    opening_m2: float = 1.6e-6
    superheat_k: float = 7.0
    off_c: float = 0.5
    on_c: float = 2.5
    thermostat: bool = True
    duct_gain_k: float = 0.5

    @property
    def volume_m3(self) -> float:
        """All that refrigerant can fill."""
        return self.condenser_m3 + self.evaporator_m3 + self.line_m3 + self.receiver_m3 + self.accumulator_m3

    def label_charge_kg(self) -> float:
        """The charge its designer would write on it: all zones filled at 50/3 °C and half of the spare volume."""
        rows = table(self.refrigerant)
        hot, cold = rows.at(50.0), rows.at(3.0)
        subcooled = self.pass_share if self.receiver_m3 else self.flooded_share
        condenser = self.condenser_m3 * (
            subcooled * hot.rho_l + (1.0 - subcooled) * _mixed(hot, LIQUID_SHARE_CONDENSER)
        )
        evaporator = 0.85 * self.evaporator_m3 * LIQUID_SHARE_EVAPORATOR * cold.rho_l
        vapour = (self.evaporator_m3 + self.accumulator_m3) * cold.rho_v
        spare = 0.5 * self.receiver_m3 * hot.rho_l + 0.45 * self.accumulator_m3 * cold.rho_l
        return condenser + evaporator + vapour + spare + self.line_m3 * hot.rho_l


@dataclass(frozen=True, slots=True)
class Wrong:
    """What is wrong with it; the defaults are nothing.

    Attributes:
        charge: of the label's charge.
        air_mol: of what does not condense.
        passage: area left in the liquid line and the expansion device, of the orifice's or the fully open valve's.
        condenser_air: air left at the condenser.
        leakage: part of the compressor's stroke that leaks back.
    """

    charge: float = 1.0
    air_mol: float = 0.0
    passage: float = 1.0
    condenser_air: float = 1.0
    leakage: float = 0.0


@dataclass(slots=True)
class Around:
    """The air: outside at the condenser, and entering the evaporator. °C and 0 to 1."""

    outside_c: float
    entering_c: float
    entering_humidity: float


@dataclass(slots=True)
class Clamps:
    """Pipe and air temperatures, °C, with the lag of metal and sensor."""

    suction: float
    liquid: float
    discharge: float
    vent: float

    def follow(self, name: str, target: float, share: float) -> None:
        """Go part of the way to a target."""
        setattr(self, name, getattr(self, name) + share * (target - getattr(self, name)))


@dataclass(slots=True)
class Running:
    """State of the running circuit. `evaporating_c` and `condensing_c` are dew temperatures."""

    plant: Plant
    wrong: Wrong
    around: Around
    rows: Table = field(init=False)
    clamps: Clamps = field(init=False)
    evaporating_c: float = field(init=False)
    condensing_c: float = field(init=False)
    fin_c: float = field(init=False)
    high_kg: float = field(init=False)
    low_kg: float = field(init=False)
    opening: float = 0.5
    stroke: float = 1.0
    on: bool = True
    tripped: bool = False
    air_pa: float = 0.0
    high_pa: float = 0.0
    low_pa: float = 0.0
    liquid_c: float = 0.0
    flow_kg_s: float = 0.0

    def __post_init__(self) -> None:
        """Begin as it stands a minute after the start: pressures apart, charge where it belongs."""
        plant = self.plant
        self.rows = table(plant.refrigerant)
        total = self.wrong.charge * plant.label_charge_kg()
        self.evaporating_c = 4.0
        self.condensing_c = self.around.outside_c + 18.0
        self.fin_c = 8.0
        self.low_kg = min(0.35 * total, plant.evaporator_m3 * 150.0 + plant.accumulator_m3 * 400.0)
        self.high_kg = total - self.low_kg
        self.liquid_c = self.condensing_c - 5.0
        self.clamps = Clamps(10.0, self.liquid_c, self.condensing_c + 20.0, 12.0)

    def step(self, dt: float) -> None:
        """Advance by `dt` (s), at most 0.5."""
        cold, hot = self.rows.at(self.evaporating_c), self.rows.at(self.condensing_c)
        flooded, flash, free_m3 = self._high_side(hot)
        amount = self.wrong.air_mol
        self.air_pa = amount * GAS_CONSTANT * (self.condensing_c + 273.15) / free_m3
        self.low_pa, self.high_pa = cold.pressure_pa, hot.pressure_pa + self.air_pa
        self._control(dt)
        wetted, spare_kg = self._low_side(cold)
        leaving_c = self._superheated(cold, wetted, spare_kg)
        suction_c = leaving_c + LINE_GAIN * (self.around.outside_c - leaving_c)
        drawn, h_hot = self._compress(cold, suction_c)
        self.flow_kg_s = drawn
        flood = self._flooding(cold, spare_kg)
        h_hot = (drawn * h_hot + flood * (cold.h_l + h_hot - cold.h_v)) / max(drawn + flood, 1e-9)
        passed = self._expand(hot, flash, suction_c - self.evaporating_c)
        h_liquid = hot.h_l - hot.cp_l * (hot.bubble_c - self.liquid_c) + flash * (hot.h_v - hot.h_l)
        self._heat_low(cold, wetted, drawn - passed * (h_liquid - cold.h_l) / (cold.h_v - cold.h_l), dt)
        drawn += flood
        self._heat_high(hot, flooded, drawn * (h_hot - hot.h_l) - passed * flash * (hot.h_v - hot.h_l), dt)
        moved = min(max((drawn - passed) * dt, -0.2 * self.high_kg), 0.2 * self.low_kg)
        self.low_kg -= moved
        self.high_kg += moved
        discharge_c = self.condensing_c + max(h_hot - hot.h_v, 0.0) / hot.cp_v
        self._feel(wetted, suction_c, discharge_c, dt)

    def _high_side(self, hot: Row) -> tuple[float, float, float]:
        """Part of the condenser that is flooded, quality of what leaves it, and the volume left for gas."""
        plant = self.plant
        mixed = _mixed(hot, LIQUID_SHARE_CONDENSER)
        span = plant.condenser_m3 * (hot.rho_l - mixed)
        spare = self.high_kg - plant.condenser_m3 * mixed - plant.line_m3 * hot.rho_l - plant.pass_share * span
        room = plant.receiver_m3 * (hot.rho_l - hot.rho_v)
        if spare <= 0.0:
            flooded = max(plant.pass_share + spare / span, 0.0)
            missing = max(-spare - plant.pass_share * span, 0.0)
            stored = 0.0
        else:
            stored = min(spare, room)
            flooded, missing = min(plant.pass_share + (spare - stored) / span, 0.85), 0.0
        flash = min(missing / (0.6 * plant.condenser_m3 * mixed + plant.line_m3 * hot.rho_l), 1.0)
        gas = (1.0 - LIQUID_SHARE_CONDENSER) * plant.condenser_m3 * (1.0 - flooded)
        free = gas + plant.receiver_m3 - stored / hot.rho_l
        self.liquid_c = hot.bubble_c - (hot.bubble_c - self.around.outside_c) * self._subcooled(hot, flooded)
        return flooded, flash, free

    def _subcooled(self, hot: Row, flooded: float) -> float:
        """How far the liquid comes to the air's temperature in the flooded part: 0 not at all, 1 wholly."""
        blown = self.wrong.condenser_air
        liquid_w_k = max(self.flow_kg_s, 0.005) * hot.cp_l
        ua = LIQUID_SHARE_OF_UA * self.plant.condenser_ua * blown**0.4 * flooded
        air_w_k = self.plant.condenser_air_w_k * blown * flooded
        if ua <= 0.0:
            return 0.0
        return 1.0 - math.exp(-1.0 / (1.0 / ua + 0.5 / air_w_k) / liquid_w_k)

    def _low_side(self, cold: Row) -> tuple[float, float]:
        """Part of the evaporator that is wetted, and liquid that is left over behind it."""
        plant = self.plant
        liquid = self.low_kg - (plant.evaporator_m3 + plant.accumulator_m3) * cold.rho_v
        full = plant.evaporator_m3 * LIQUID_SHARE_EVAPORATOR * cold.rho_l
        return min(max(liquid / full, 0.0), 1.0), max(liquid - full, 0.0)

    def _superheated(self, cold: Row, wetted: float, spare_kg: float) -> float:
        if spare_kg > 0.0:
            return self.evaporating_c
        carried = max(self.flow_kg_s, 0.003) * cold.cp_v / 27.0
        approach = 1.0 - math.exp(-DRY_TRANSFER * (1.0 - wetted) / carried)
        return self.evaporating_c + max(self.around.entering_c - self.evaporating_c, 0.0) * approach

    def _flooding(self, cold: Row, spare_kg: float) -> float:
        """Liquid that runs into the compressor because nothing holds it back, kg/s."""
        held = ACCUMULATOR_SHARE * self.plant.accumulator_m3 * cold.rho_l
        return max(spare_kg - held, 0.0) / FLOOD_S if self.on else 0.0

    def _compress(self, cold: Row, suction_c: float) -> tuple[float, float]:
        """Mass flow and discharge enthalpy."""
        plant = self.plant
        ratio = max(self.high_pa / self.low_pa, 1.0)
        superheat = suction_c - self.evaporating_c
        h_suction = cold.h_v + cold.cp_v * superheat
        rho = cold.rho_v * (self.evaporating_c + 273.15) / (suction_c + 273.15)
        power = (cold.k - 1.0) / cold.k
        work = self.low_pa / rho / power * (ratio**power - 1.0)
        # What leaks back is compressed again, and warms what is drawn in.
        h_hot = h_suction + 0.9 * work / plant.isentropic / (1.0 - 0.4 * self.wrong.leakage)
        if not self.on:
            return 0.0, h_hot
        filling = max(plant.filling - plant.clearance * (ratio ** (1.0 / cold.k) - 1.0), 0.05)
        return self.stroke * filling * (1.0 - self.wrong.leakage) * plant.swept_m3_s * rho, h_hot

    def _expand(self, hot: Row, flash: float, superheat_k: float) -> float:
        """Mass flow through the expansion device."""
        plant = self.plant
        rho = 1.0 / (flash / hot.rho_v + (1.0 - flash) / hot.rho_l)
        flashing = FLASH_SHARE * self.rows.bubble_pressure_pa(self.liquid_c)
        choked = math.sqrt(2.0 * rho * max(self.high_pa - max(flashing, self.low_pa), 0.0))
        if not plant.valve:
            return self.wrong.passage * plant.opening_m2 * choked
        full = plant.opening_m2 * math.sqrt(2.0 * rho * max(self.high_pa - self.low_pa, 0.0))
        if self.on and full > 0.0:
            # A good valve passes what is drawn, and a little more or less until the superheat is its own.
            wanted = self.flow_kg_s + VALVE_GAIN * (superheat_k - plant.superheat_k)
            self.opening = min(max(wanted / full, SHUT_VALVE), 1.0)
        elif not self.on:
            self.opening = SHUT_VALVE
        return min(self.opening * full, self.wrong.passage * 2.0 * plant.opening_m2 * choked)

    def _heat_low(self, cold: Row, wetted: float, evaporated: float, dt: float) -> None:
        plant, around = self.plant, self.around
        # The fins lie where what the air gives is what the refrigerant takes: one Newton step from the last place.
        water = moist_air.ratio(around.entering_c, around.entering_humidity)
        entering = moist_air.enthalpy(around.entering_c, water)
        inside_c = self.evaporating_c - 0.4 * (self.evaporating_c - cold.bubble_c)
        given = plant.coil_effect * plant.evaporator_air_kg_s

        def surplus(fin_c: float) -> float:
            wet = entering - moist_air.saturated_enthalpy(fin_c)
            dry = moist_air.CP_AIR * (around.entering_c - fin_c)
            return given * max(wet, dry) - plant.evaporator_ua * (fin_c - inside_c)

        here = surplus(self.fin_c)
        slope = (surplus(self.fin_c + 0.1) - here) / 0.1
        self.fin_c = min(max(self.fin_c - here / slope, inside_c), max(around.entering_c, inside_c))
        taken = wetted * plant.evaporator_ua * (self.fin_c - inside_c)
        heat = EVAPORATOR_HEAT + 1400.0 * min(self.low_kg, 0.3)
        self.evaporating_c += (taken - evaporated * (cold.h_v - cold.h_l)) * dt / heat

    def _heat_high(self, hot: Row, flooded: float, brought_w: float, dt: float) -> None:
        plant, blown = self.plant, self.wrong.condenser_air
        air = plant.condenser_air_w_k * blown
        effect = 1.0 - math.exp(-plant.condenser_ua * blown**0.5 / air)
        blanket = 1.0 + BLANKET * self.air_pa / self.high_pa
        middle_c = (self.condensing_c + hot.bubble_c) / 2.0
        rejected = DESUPERHEATING * (1.0 - flooded) * air * effect / blanket * (middle_c - self.around.outside_c)
        heat = CONDENSER_HEAT + 1400.0 * min(self.high_kg, 0.5)
        self.condensing_c += (brought_w - rejected) * dt / heat

    def _control(self, dt: float) -> None:
        """Cut-out and cut-in, or the stroke of a compressor that turns itself down."""
        plant = self.plant
        self.tripped = self.high_pa > (HIGH_CUT_IN_PA if self.tripped else HIGH_CUT_OUT_PA)
        if plant.variable:
            self.stroke = min(max(self.stroke + 0.02 * dt * (self.evaporating_c - 0.5), 0.08), 1.0)
            low = self.evaporating_c < (-10.0 if not self.on else -25.0)
        else:
            felt = self.fin_c if plant.thermostat else self.evaporating_c
            low = felt < (plant.off_c if self.on else plant.on_c) or self.evaporating_c < SAFETY_C
        self.on = not low and not self.tripped

    def _feel(self, wetted: float, suction_c: float, discharge_c: float, dt: float) -> None:
        """Clamps and vent follow with their lag."""
        entering = self.around.entering_c
        wet_c = self.fin_c + (1.0 - self.plant.coil_effect) * (entering - self.fin_c)
        blown = wetted * wet_c + (1.0 - wetted) * entering + self.plant.duct_gain_k
        self.clamps.follow("vent", blown, dt / 8.0)
        self.clamps.follow("liquid", self.liquid_c, dt / 6.0)
        if self.on:
            self.clamps.follow("suction", suction_c, dt / 6.0)
            self.clamps.follow("discharge", discharge_c, dt / 15.0)


def _mixed(row: Row, liquid_share: float) -> float:
    return liquid_share * row.rho_l + (1.0 - liquid_share) * row.rho_v
