"""What the hose holds: refrigerant that has left the container and is not in the circuit.

A hose of 1.8 m and 4.8 mm holds some 40 g of liquid R-134a, but less than 1 g of its vapour. Charging equipment is
held to 15 g (SAE J2788, from memory), so a hose of liquid decides whether a charge is right.

* While the container feeds it, the hose holds liquid at its bubble point or vapour at the mean of the pressures at its
  ends, as the container is drawn.
* Liquid boils on its way once the container, boiling itself, has cooled below the hose that its first liquid warmed.
  Heat of the wall and the drop at the container's valve make a vapour share x of some 0.3 to 1.2 % by mass,

      x = (C_wall dT/dt + m' c dT) / (m' h_fg)

  and x r / (1 + x r) by volume, with r = density of liquid over vapour, 20 to 50. So BOILING_SHARE of the room is lost,
  BOILING_SHARE_U of it unknown. It begins when the container has cooled by BOILS_FROM_K and is whole at BOILS_WHOLLY_K.
  Heat balance of a homogeneous mixture; the figures are judged, no source.
* Shut at both ends it keeps what it has.
* Shut at the container and open to a running circuit it is pulled dry: what is liquid boils off with DRYING_S, and
  vapour at the circuit's pressure remains. With the engine standing nothing pulls; how much stays is then unknown
  between the two.
* An evacuated hose is empty.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from fillmark.engine.events import Draw
from fillmark.engine.setup import Hose
from fillmark.refrigerants.protocol import OutOfRangeError, Refrigerant

DRYING_S = 10.0
"""Time in which a hose pulled by the compressor loses 63 % of its liquid. Common practice, no source."""

LIQUID_SHARE_U = 0.03
"""Relative standard uncertainty of a hose full of liquid: bore, temperature, a bubble left in it."""

VAPOUR_SHARE_U = 0.25
"""Relative standard uncertainty of a hose full of vapour: pressure along it and temperature."""

BOILING_SHARE = 0.20
BOILING_SHARE_U = 0.06
BOILS_FROM_K = 0.5
BOILS_WHOLLY_K = 2.5
"""Liquid that boils in the hose, see above."""

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
    """What is known around the hose. None: unknown. Pressures absolute, Pa; temperature K."""

    temperature_k: float | None
    container_pressure_pa: float | None
    circuit_pressure_pa: float | None
    engine_running: bool | None
    container_k: float | None = None
    flows: bool = False


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
        warmest_k: the container's since it began to feed the hose; a clamp just put on comes up to it. None: unknown.
    """

    hose: Hose
    refrigerant: Refrigerant
    feed: Feed = Feed.EMPTY
    since_s: float = 0.0
    held: HoldUp = NOTHING
    draw: Draw = "vapour"
    measured_full_kg: float | None = None
    warmest_k: float | None = None

    def now(self, around: Conditions, time_s: float) -> HoldUp:
        """Content at `time_s`. Where a property is out of range or unknown, the uncertainty says so."""
        match self.feed:
            case Feed.EMPTY:
                return NOTHING
            case Feed.SHUT:
                return self.held
            case Feed.FED:
                return self._fed(around)
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
        warmest = around.container_k if feed is Feed.FED else None
        return replace(self, feed=feed, since_s=time_s, held=held, draw=draw, measured_full_kg=full, warmest_k=warmest)

    def warmed(self, container_k: float) -> HoseContent:
        """The content once the container's temperature has been read."""
        if self.feed is not Feed.FED or (self.warmest_k is not None and container_k <= self.warmest_k):
            return self
        return replace(self, warmest_k=container_k)

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

    def _fed(self, around: Conditions) -> HoldUp:
        if self.measured_full_kg is not None:
            full = HoldUp(self.measured_full_kg, max(self.held.u_kg, 0.01 * self.measured_full_kg))
        else:
            full = self.full(around) or _anything(self.hose, self.refrigerant) or self.held
        return self._boiling(full, around) if around.flows and self.draw == "liquid" else full

    def _boiling(self, full: HoldUp, around: Conditions) -> HoldUp:
        """A hose that liquid flows through. Where nobody measures the container, it may boil or not."""
        begun, u_begun = 0.5, 0.5
        if self.warmest_k is not None and around.container_k is not None:
            cooled = self.warmest_k - around.container_k
            begun = min(max((cooled - BOILS_FROM_K) / (BOILS_WHOLLY_K - BOILS_FROM_K), 0.0), 1.0)
            u_begun = math.sqrt(begun * (1.0 - begun)) / 2.0
        u_share = math.hypot(BOILING_SHARE * u_begun, BOILING_SHARE_U * begun)
        return HoldUp(full.mass_kg * (1.0 - BOILING_SHARE * begun), math.hypot(full.u_kg, full.mass_kg * u_share))

    def _pulled(self, around: Conditions, time_s: float) -> HoldUp:
        dry = vapour_hold_up(self.hose, self.refrigerant, around.temperature_k, around.circuit_pressure_pa) or NOTHING
        excess = self.held.mass_kg - dry.mass_kg
        if excess <= 0.0 or around.engine_running:
            left = excess * math.exp(-max(time_s - self.since_s, 0.0) / DRYING_S)
            return HoldUp(dry.mass_kg + left, math.hypot(dry.u_kg, left / math.sqrt(12.0)))
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
