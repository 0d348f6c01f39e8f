"""What the hose holds: refrigerant that has left the container and is not in the circuit.

A hose of 1.8 m and 4.8 mm holds some 40 g of liquid R-134a, but less than 1 g of its vapour. Charging equipment is
held to 15 g (SAE J2788, from memory), so a hose of liquid decides whether a charge is right.

* While the container feeds it, the hose holds liquid at its bubble point or vapour at the mean of the pressures at its
  ends, as the container is drawn.
* Liquid that flows boils a little on its way: see `boiling.py`.
* Shut at both ends it keeps what it has.
* Shut at the container and open to a running circuit it is pulled dry: what is liquid flashes within some FLASH_S
  until it and the hose are as cold as the circuit's pressure wants, which takes a share (c + C_wall / m) dT / h_fg of
  it. The rest, SLOW_SHARE, waits for heat from the air: 10 W/m²K (free convection, judged) on a hose of 12 mm are
  0.4 W/mK, some 0.05 to 0.1 g/s, about SLOW_S. Vapour at the circuit's pressure remains. With the engine standing
  nothing pulls; how much stays is then unknown between the two.
* An evacuated hose is empty.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from fillmark.engine.boiling import UNKNOWN_SHARE, UNKNOWN_SHARE_U, Flowing, vapour_share
from fillmark.engine.events import Draw
from fillmark.engine.setup import Hose
from fillmark.refrigerants.protocol import OutOfRangeError, Refrigerant

FLASH_S = 10.0
SLOW_SHARE = 0.33
SLOW_S = 100.0
SLOW_U = 0.5
"""Liquid that is pulled off, see above. SLOW_U is the relative standard uncertainty of the slow part."""

LIQUID_SHARE_U = 0.03
"""Relative standard uncertainty of a hose full of liquid: bore, temperature, a bubble left in it."""

VAPOUR_SHARE_U = 0.25
"""Relative standard uncertainty of a hose full of vapour: pressure along it and temperature."""

COOLING_OVER_S = 15.0
"""A clamp tells no rate over less."""

BELOW_CRITICAL_K = 10.0
"""So far below the critical temperature a liquid still has a density worth the name."""


class Feed(StrEnum):
    """What the hose's ends are open to."""

    EMPTY = "empty"
    FED = "fed"
    SHUT = "shut"
    PULLED = "pulled"


@dataclass(frozen=True, slots=True)
class Conditions:
    """What is known around the hose. None: unknown. Pressures absolute, Pa; temperatures K.

    Attributes:
        flow_kg_s: through it into the circuit; None while that is shut.
    """

    temperature_k: float | None
    container_pressure_pa: float | None
    circuit_pressure_pa: float | None
    engine_running: bool | None
    container_k: float | None = None
    flow_kg_s: float | None = None


@dataclass(frozen=True, slots=True)
class HoldUp:
    """Mass in the hose and its standard uncertainty, kg."""

    mass_kg: float
    u_kg: float


NOTHING = HoldUp(0.0, 0.0)


@dataclass(frozen=True, slots=True)
class HoseContent:
    """The hose's content: `held` at `since_s`, and what its ends do to it since.

    Attributes:
        measured_full_kg: a filling with liquid that the scale has seen whole, else None.
        warmest: when (s) and how warm (K) the container was at its warmest since it began to feed the hose; a clamp
            just put on comes up to it first. None: unknown.
    """

    hose: Hose
    refrigerant: Refrigerant
    feed: Feed = Feed.EMPTY
    since_s: float = 0.0
    held: HoldUp = NOTHING
    draw: Draw = "vapour"
    measured_full_kg: float | None = None
    warmest: tuple[float, float] | None = None

    def now(self, around: Conditions, time_s: float) -> HoldUp:
        """Content at `time_s`. Where a property is out of range or unknown, the uncertainty says so."""
        match self.feed:
            case Feed.EMPTY:
                return NOTHING
            case Feed.SHUT:
                return self.held
            case Feed.FED:
                return self._fed(around, time_s)
            case Feed.PULLED:
                return self._pulled(around, time_s)

    def turned(
        self, feed: Feed, around: Conditions, time_s: float, draw: Draw, seen: HoldUp | None = None
    ) -> HoseContent:
        """The content once the ends of the hose change at `time_s`; `seen`: what the scale knows better."""
        if feed is self.feed:
            return self
        held = NOTHING if feed is Feed.EMPTY else seen or self.now(around, time_s)
        full = self.measured_full_kg if draw == self.draw else None
        container_k = around.container_k if feed is Feed.FED else None
        warmest = None if container_k is None else (time_s, container_k)
        return replace(self, feed=feed, since_s=time_s, held=held, draw=draw, measured_full_kg=full, warmest=warmest)

    def warmed(self, time_s: float, container_k: float) -> HoseContent:
        """The content once the container's temperature has been read."""
        if self.feed is not Feed.FED or (self.warmest is not None and container_k < self.warmest[1]):
            return self
        return replace(self, warmest=(time_s, container_k))

    def full(self, around: Conditions) -> HoldUp | None:
        """What the hose holds once the container has filled it. None: unknown."""
        if self.draw == "liquid":
            return liquid_hold_up(self.hose, self.refrigerant, around.temperature_k)
        ends = [p for p in (around.container_pressure_pa, around.circuit_pressure_pa) if p is not None]
        pressure = sum(ends) / len(ends) if ends else None
        return vapour_hold_up(self.hose, self.refrigerant, around.temperature_k, pressure)

    def measured(self, mass_kg: float, u_kg: float) -> HoseContent:
        """The content once the scale has seen the whole filling leave the container."""
        full = mass_kg if self.draw == "liquid" else None
        return replace(self, held=HoldUp(mass_kg, u_kg), measured_full_kg=full)

    def _fed(self, around: Conditions, time_s: float) -> HoldUp:
        if self.measured_full_kg is not None:
            full = HoldUp(self.measured_full_kg, max(self.held.u_kg, 0.01 * self.measured_full_kg))
        else:
            full = self.full(around) or _anything(self.hose, self.refrigerant) or self.held
        flows = around.flow_kg_s is not None and self.draw == "liquid"
        return self._boiling(full, around, time_s) if flows else full

    def _boiling(self, full: HoldUp, around: Conditions, time_s: float) -> HoldUp:
        """A hose that liquid flows through."""
        share, u_share = self._vapour_share(full, around, time_s) or (UNKNOWN_SHARE, UNKNOWN_SHARE_U)
        return HoldUp(full.mass_kg * (1.0 - share), math.hypot(full.u_kg, full.mass_kg * u_share))

    def _vapour_share(self, full: HoldUp, around: Conditions, time_s: float) -> tuple[float, float] | None:
        """Vapour's share of the room and its standard uncertainty; None where too little is known."""
        warmest, now_k, air_k = self.warmest, around.container_k, around.temperature_k
        if warmest is None or now_k is None or air_k is None or around.flow_kg_s is None:
            return None
        try:
            liquid = self.refrigerant.saturated_liquid_density_kg_m3(now_k)
            ratio = liquid / self.refrigerant.saturated_vapour_density_kg_m3(now_k) - 1.0
        except OutOfRangeError:
            return None
        cooling = (warmest[1] - now_k) / max(time_s - warmest[0], COOLING_OVER_S)
        return vapour_share(Flowing(self.hose.length_m, full.mass_kg, around.flow_kg_s, now_k, air_k, cooling, ratio))

    def _pulled(self, around: Conditions, time_s: float) -> HoldUp:
        dry = vapour_hold_up(self.hose, self.refrigerant, around.temperature_k, around.circuit_pressure_pa) or NOTHING
        excess = self.held.mass_kg - dry.mass_kg
        if excess <= 0.0 or around.engine_running:
            pulled_s = max(time_s - self.since_s, 0.0)
            fast = excess * (1.0 - SLOW_SHARE) * math.exp(-pulled_s / FLASH_S)
            slow = excess * SLOW_SHARE * math.exp(-pulled_s / SLOW_S)
            u_left = math.hypot(fast / math.sqrt(12.0), SLOW_U * slow) if excess > 0.0 else 0.0
            return HoldUp(dry.mass_kg + fast + slow, math.hypot(dry.u_kg, u_left))
        return HoldUp(dry.mass_kg + excess / 2.0, math.hypot(dry.u_kg, excess / math.sqrt(12.0)))


def bore_volume_m3(hose: Hose) -> float:
    """Internal volume of the hose, m³."""
    return math.pi / 4.0 * hose.bore_m**2 * hose.length_m


def liquid_hold_up(hose: Hose, refrigerant: Refrigerant, temperature_k: float | None) -> HoldUp | None:
    """A hose full of liquid at its bubble point. None where the temperature is unknown or out of range."""
    if temperature_k is None:
        return None
    try:
        mass = bore_volume_m3(hose) * refrigerant.saturated_liquid_density_kg_m3(temperature_k)
    except OutOfRangeError:
        return None
    return HoldUp(mass, LIQUID_SHARE_U * mass)


def _anything(hose: Hose, refrigerant: Refrigerant) -> HoldUp | None:
    """Between nothing and liquid: all that is known where there is no saturation, as of R-744 on a hot day."""
    most = liquid_hold_up(hose, refrigerant, refrigerant.critical_temperature_k - BELOW_CRITICAL_K)
    return None if most is None else HoldUp(most.mass_kg / 2.0, most.mass_kg / math.sqrt(12.0))


def vapour_hold_up(
    hose: Hose, refrigerant: Refrigerant, temperature_k: float | None, pressure_pa: float | None
) -> HoldUp | None:
    """A hose full of vapour. Without a pressure, saturated vapour at `temperature_k` is the most it can be."""
    if temperature_k is None:
        return None
    try:
        if pressure_pa is None:
            most = bore_volume_m3(hose) * refrigerant.saturated_vapour_density_kg_m3(temperature_k)
            return HoldUp(most / 2.0, most / math.sqrt(12.0))
        mass = bore_volume_m3(hose) * refrigerant.vapour_density_kg_m3(temperature_k, max(pressure_pa, 1.0))
    except OutOfRangeError:
        return None
    return HoldUp(mass, VAPOUR_SHARE_U * mass)
