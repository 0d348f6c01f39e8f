"""Recovery: refrigerant drawn out of the circuit into a recovery cylinder that stands on the scale.

* Recovered mass is what the cylinder gained. Compared with the label it says how much was lost before.
* A cylinder must not become full of liquid at 55 °C (49 CFR 173.304(b)): its contents may not exceed the water
  capacity times the density of the liquid at 55 °C. Filling to 80 % of the volume is a practice (an industry
  guideline), not that rule.
* The end: pressure stays below the limit after a wait, because refrigerant goes on boiling out of the oil.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fillmark.engine.report import Report
from fillmark.refrigerants.protocol import OutOfRangeError, Refrigerant

if TYPE_CHECKING:
    from fillmark.engine.containers import Container
    from fillmark.engine.course import Course
    from fillmark.engine.events import Fact, Reading

FULL_AT_K = 273.15 + 55.0
"""49 CFR 173.304(b): not liquid-full at any temperature up to 55 °C."""

PRACTICE_SHARE = 0.8
PRACTICE_AT_K = 273.15 + 25.0
HELD_S = 120.0
"""Wait for refrigerant boiling out of the oil. Common practice, no source."""

PRESSURES = ("low/pressure", "high/pressure", "vacuum/pressure")


FILLING_DENSITY_KG_M3 = {"R-744": 680.0}
"""Where the rule of 55 °C does not apply: 49 CFR 173.304a(a)(2), carbon dioxide, 68 % of the water's weight."""


def fill_limit_kg(refrigerant: Refrigerant, water_capacity_m3: float) -> float | None:
    """Most that a cylinder may hold, kg (49 CFR 173.304(b), for R-744 173.304a(a)(2)). None: no rule at hand."""
    filling = FILLING_DENSITY_KG_M3.get(refrigerant.name)
    if filling is not None:
        return filling * water_capacity_m3
    try:
        return water_capacity_m3 * refrigerant.saturated_liquid_density_kg_m3(FULL_AT_K)
    except OutOfRangeError:
        return None


def practice_limit_kg(refrigerant: Refrigerant, water_capacity_m3: float) -> float | None:
    """80 % of the volume as liquid of 25 °C, kg: a practice. None where no liquid exists at 25 °C."""
    try:
        return PRACTICE_SHARE * water_capacity_m3 * refrigerant.saturated_liquid_density_kg_m3(PRACTICE_AT_K)
    except OutOfRangeError:
        return None


def contents_kg(container: Container, course: Course) -> float | None:
    """What a recovery cylinder holds now; None while tare or gross mass is unknown."""
    if container.tare_kg is None or container.full_kg is None:
        return None
    return container.full_kg - container.tare_kg + container.drawn(course.pan_of(container))[0]


@dataclass(frozen=True, slots=True)
class RecoveryStage:
    """State of a recovery.

    Attributes:
        limit_pa: absolute pressure that must be held at the end; the atmosphere when none is given.
        below_since_s: since when every known pressure is below the limit.
        lowest_pa: lowest pressure seen.
    """

    limit_pa: float
    below_since_s: float | None = None
    lowest_pa: float | None = None
    pressure_pa: float | None = None

    def read(self, course: Course, reading: Reading) -> RecoveryStage:
        """Follow the pressure."""
        if reading.channel not in PRESSURES:
            return self
        pressure = course.pressure_abs_pa(reading.channel)
        if pressure is None:
            return self
        lowest = pressure if self.lowest_pa is None else min(self.lowest_pa, pressure)
        since = self.below_since_s
        since = (reading.time_s if since is None else since) if pressure <= self.limit_pa else None
        return replace(self, below_since_s=since, lowest_pa=lowest, pressure_pa=pressure)

    def acted(self, course: Course, fact: Fact) -> RecoveryStage:
        """Nothing that is done changes what was seen."""
        del course, fact
        return self

    def held_s(self, course: Course) -> float:
        """How long the pressure has been below the limit, s."""
        return 0.0 if self.below_since_s is None else max(course.time_s - self.below_since_s, 0.0)

    def ended(self, course: Course) -> RecoveryStage:
        """Nothing is left to be reckoned."""
        del course
        return self

    def report(self, course: Course) -> Report:
        """Recovered mass against the label, and whether the circuit is empty."""
        recovered, u = course.recovered()
        label = (course.setup.circuit.charge_min_kg + course.setup.circuit.charge_max_kg) / 2.0
        lost = 1.0 - recovered / label
        held = self.held_s(course)
        empty = held >= HELD_S
        measured = [
            f"{recovered * 1e3:.0f} ± {2e3 * u:.0f} g recovered of {label * 1e3:.0f} g on the label: "
            + (f"{lost:.0%} lost before the repair" if lost > 0.0 else f"{-lost:.0%} more than the label")
        ]
        if self.pressure_pa is not None:
            measured.append(f"circuit at {self.pressure_pa / 1e5:.2f} bar absolute, below the limit for {held:.0f} s")
        return Report(
            measured=tuple(measured),
            proves=("the circuit gives no more refrigerant at this temperature",) if empty else (),
            does_not_prove=(
                "that the recovered refrigerant is pure or what the label says",
                "how much of the missing mass leaked, and how much was never charged",
            ),
            next=_next(self, course, empty=empty),
            verdict="empty" if empty else "not empty yet" if self.pressure_pa is not None else "unknown",
            numbers={
                "recovered_kg": round(recovered, 5),
                "recovered_u_kg": round(u, 5),
                "label_kg": round(label, 5),
                "lost_share": round(lost, 4),
                "pressure_abs_pa": self.pressure_pa,
                "lowest_abs_pa": self.lowest_pa,
                "held_s": round(held, 1),
            },
        )


def _next(stage: RecoveryStage, course: Course, *, empty: bool) -> tuple[str, ...]:
    if stage.pressure_pa is None:
        return ("read the pressure of the circuit: without it the end of recovery cannot be seen",)
    if not empty:
        return (
            (
                f"go on until the pressure stays below {stage.limit_pa / 1e5:.2f} bar absolute for {HELD_S:.0f} s; it "
                "rises again while refrigerant boils out of the oil"
            ),
        )
    lines = ["measure the oil that came out and enter it; repair; replace the drier"]
    to_add = course.oil.to_add_m3
    if course.oil.touched and to_add is not None:
        lines.append(f"oil still to add: {to_add * 1e6:.0f} mL")
    return tuple(lines)
