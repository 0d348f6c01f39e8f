"""What the hose holds: refrigerant that has left the container and is not in the circuit.

A hose of 1.8 m and 4.8 mm holds some 40 g of liquid R-134a, but less than 1 g of its vapour. Charging equipment is
held to 15 g (SAE J2788, from memory), so a hose of liquid decides whether a charge is right.

* While the container feeds it, the hose holds liquid at its bubble point or vapour at the mean of the pressures at its
  ends, as the container is drawn.
* Liquid that flows boils a little on its way: see `boiling.py`.
* Vapour that feeds a hose with liquid in it (condensed, or left from before) pushes it out, as fast as the port lets
  liquid through, some SWEPT_KG_S (1.3 mm, common practice, no source), for little vapour takes much room. What is left
  is taken to fall by exp(-p²), p being what could have been pushed out over what there was.
* Shut at both ends it keeps what it has.
* Shut at the container and open to a running circuit it is pulled dry, see `drying.py`. Vapour at the circuit's
  pressure remains. With the engine standing nothing pulls; how much stays is then unknown between the two.
* An evacuated hose is empty.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from fillmark.engine.boiling import (
    CLAMP_U_K,
    EVAPORATION_J_KG,
    UNKNOWN_SHARE,
    UNKNOWN_SHARE_U,
    WALL_J_MK,
    Flowing,
    Source,
    still_cold,
    vapour_share,
)
from fillmark.engine.drying import Wet, left_wet
from fillmark.engine.events import Draw
from fillmark.engine.hold_up import NOTHING, HoldUp, anything, liquid_hold_up, vapour_hold_up
from fillmark.engine.setup import Hose
from fillmark.refrigerants.protocol import OutOfRangeError, Refrigerant

SWEPT_KG_S = 8e-3
SWEPT_U = 0.3
LONG_GONE = 5.0

FILM_SHARE_U = 0.015
"""Of the liquid that was pushed out, so much may cling to the wall: standard uncertainty. Judged."""

PUSHED_BY_ITS_OWN = 20.0
"""Vapour pushes out so many times its mass of liquid at most: the ratio of their densities, low."""

SAME_FILLING_U = 0.015
"""What may change in a filling that the scale has seen, relative."""

CONDENSED_U = 0.4
LEAST_CONDENSED_U_KG = 0.25e-3
"""Of what condenses in a cold hose: relative, and at least. Judged."""


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
        through_kg: what has flowed through it since the circuit was opened.
        dispensed_kg: what has left the containers.
        clamp_age_s: age of the container's temperature.
        container_left_kg, container_full_kg: what the container holds, and held when new.
    """

    temperature_k: float | None
    container_pressure_pa: float | None
    circuit_pressure_pa: float | None
    engine_running: bool | None
    container_k: float | None = None
    flow_kg_s: float | None = None
    through_kg: float = 0.0
    dispensed_kg: float = 0.0
    clamp_age_s: float = 0.0
    container_left_kg: float | None = None
    container_full_kg: float | None = None


@dataclass(frozen=True, slots=True)
class Warmest:
    """The container at its warmest since it began to feed the hose: when, how warm, and what had been dispensed."""

    time_s: float
    temperature_k: float
    dispensed_kg: float


@dataclass(frozen=True, slots=True)
class Filling:
    """A filling with liquid that the scale has seen whole: mass and standard uncertainty, kg, and temperature, K."""

    mass_kg: float
    u_kg: float
    temperature_k: float | None


@dataclass(frozen=True, slots=True)
class HoseContent:
    """The hose's content: `held` at `since_s`, and what its ends do to it since.

    Attributes:
        measured: a filling with liquid that the scale has seen whole, else None.
        wet: liquid that lay in it when a container of vapour was opened to the circuit through it, at `wet_since_s`.
        liquid_k: temperature of the liquid when the container ceased to feed it; None: none, or unknown.
        warmest: None: unknown. A clamp just put on comes up to the container's temperature first.
    """

    hose: Hose
    refrigerant: Refrigerant
    feed: Feed = Feed.EMPTY
    since_s: float = 0.0
    held: HoldUp = NOTHING
    draw: Draw = "vapour"
    measured: Filling | None = None
    wet: HoldUp = NOTHING
    wet_since_s: float = 0.0
    liquid_k: float | None = None
    warmest: Warmest | None = None

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

    @property
    def clears_s(self) -> float:
        """How long it takes, at a guess, until vapour has pushed the liquid out."""
        return 2.0 * self.wet.mass_kg / SWEPT_KG_S

    def turned(
        self, feed: Feed, around: Conditions, time_s: float, draw: Draw, seen: HoldUp | None = None
    ) -> HoseContent:
        """The content once the ends of the hose change at `time_s`; `seen`: what the scale knows better."""
        if feed is self.feed:
            return self if seen is None or feed is not Feed.SHUT else replace(self, held=seen)
        held = NOTHING if feed is Feed.EMPTY else seen or self.now(around, time_s)
        fed_before = self.feed is Feed.FED
        return replace(
            self,
            feed=feed,
            since_s=time_s,
            held=held,
            draw=draw,
            measured=self.measured if draw == self.draw else None,
            wet=NOTHING,
            liquid_k=self.liquid_temperature_k(around) if fed_before and self.draw == "liquid" else self.liquid_k,
            warmest=_warmest(time_s, around) if feed is Feed.FED else None,
        )

    def warmed(self, time_s: float, around: Conditions) -> HoseContent:
        """The content once the container's temperature has been read."""
        kelvin = around.container_k
        if self.feed is not Feed.FED or kelvin is None:
            return self
        if self.warmest is not None and kelvin < self.warmest.temperature_k + CLAMP_U_K:
            return self
        return replace(self, warmest=_warmest(time_s, around))

    def full(self, around: Conditions) -> HoldUp | None:
        """What the hose holds once the container has filled it. None: unknown."""
        if self.draw == "liquid":
            return liquid_hold_up(self.hose, self.refrigerant, self.liquid_temperature_k(around))
        ends = [p for p in (around.container_pressure_pa, around.circuit_pressure_pa) if p is not None]
        pressure = sum(ends) / len(ends) if ends else None
        return vapour_hold_up(self.hose, self.refrigerant, around.temperature_k, pressure)

    def liquid_temperature_k(self, around: Conditions) -> float | None:
        """Temperature of liquid in the hose."""
        container_k, air_k = around.container_k, around.temperature_k
        if container_k is None or air_k is None:
            return air_k
        flowing = Flowing(self.hose.length_m, self.held.mass_kg, 0.0, around.through_kg, air_k)
        cold, began_colder_k = still_cold(flowing, container_k)
        return container_k - cold * began_colder_k

    def condensed(self, around: Conditions, *, used: bool) -> HoldUp | None:
        """Vapour that condenses in an empty hose colder than the container, C L (T - T_hose) / h as in `boiling.py`.

        A new hose is as warm as the air; one that was used is between that and what boils in the circuit.
        None: a temperature is unknown.
        """
        air_k, boils_at_k = around.temperature_k, self._boils_at_k(around)
        if around.container_k is None or air_k is None or (used and boils_at_k is None):
            return None
        per_kelvin = WALL_J_MK * self.hose.length_m / EVAPORATION_J_KG
        least = per_kelvin * max(around.container_k - air_k, 0.0)
        if not used or boils_at_k is None:
            return HoldUp(least, math.hypot(CONDENSED_U * least, LEAST_CONDENSED_U_KG))
        most = per_kelvin * max(around.container_k - min(boils_at_k, air_k), 0.0)
        return HoldUp((least + most) / 2.0, math.hypot((most - least) / math.sqrt(12.0), LEAST_CONDENSED_U_KG))

    def opened(self, start: HoldUp, around: Conditions, time_s: float, *, whole: bool) -> HoseContent:
        """The content once the circuit is opened and the scale has seen `start` go in; `whole`: it filled the hose."""
        if self.draw == "liquid":
            filled = replace(self, held=start)
            seen = Filling(start.mass_kg, start.u_kg, filled.liquid_temperature_k(around)) if whole else self.measured
            return replace(filled, measured=seen)
        vapour = self.full(around)
        wet_kg = 0.0 if vapour is None else max(start.mass_kg - vapour.mass_kg, 0.0)
        return replace(self, held=start, wet=HoldUp(wet_kg, start.u_kg), wet_since_s=time_s)

    def _fed(self, around: Conditions, time_s: float) -> HoldUp:
        if self.draw == "liquid":
            full = self.filled(around) or anything(self.hose, self.refrigerant) or self.held
            return full if around.flow_kg_s is None else self._boiling(full, around, time_s)
        vapour = self.full(around) or anything(self.hose, self.refrigerant) or self.held
        if self.wet.mass_kg <= 0.0:
            return vapour
        wet = self.wet
        pushed = min(SWEPT_KG_S * (time_s - self.wet_since_s), PUSHED_BY_ITS_OWN * around.through_kg)
        pushed = min(pushed / wet.mass_kg, LONG_GONE)
        share = math.exp(-pushed * pushed)
        left, u_left = wet.mass_kg * share, share * math.hypot(wet.u_kg, 2.0 * SWEPT_U * pushed**2 * wet.mass_kg)
        return HoldUp(vapour.mass_kg + left, math.hypot(vapour.u_kg, u_left, FILM_SHARE_U * (wet.mass_kg - left)))

    def filled(self, around: Conditions) -> HoldUp | None:
        """As `full`; but a filling that the scale has seen is known against what was dispensed by then."""
        if self.measured is None or self.draw != "liquid":
            return self.full(around)
        mass = self.measured.mass_kg * self._thinned(self.measured.temperature_k, self.liquid_temperature_k(around))
        return HoldUp(mass, math.hypot(SAME_FILLING_U * mass, self.measured.u_kg))

    def _thinned(self, then_k: float | None, now_k: float | None) -> float:
        if then_k is None or now_k is None:
            return 1.0
        try:
            density = self.refrigerant.saturated_liquid_density_kg_m3
            return density(now_k) / density(then_k)
        except OutOfRangeError:
            return 1.0

    def _boiling(self, full: HoldUp, around: Conditions, time_s: float) -> HoldUp:
        """A hose that liquid flows through."""
        share, u_share = self._vapour_share(full, around, time_s) or (UNKNOWN_SHARE, UNKNOWN_SHARE_U)
        return HoldUp(full.mass_kg * (1.0 - share), math.hypot(full.u_kg, full.mass_kg * u_share))

    def _vapour_share(self, full: HoldUp, around: Conditions, time_s: float) -> tuple[float, float] | None:
        """Vapour's share of the room and its standard uncertainty; None where too little is known."""
        warmest, clamp_k, air_k = self.warmest, around.container_k, around.temperature_k
        if warmest is None or clamp_k is None or air_k is None or around.flow_kg_s is None:
            return None
        try:
            ratio = self._density_ratio(clamp_k)
            mean_ratio = self._density_ratio((clamp_k + warmest.temperature_k) / 2.0)
        except OutOfRangeError:
            return None
        source = Source(
            warmest_k=warmest.temperature_k,
            clamp_k=clamp_k,
            since_s=max(time_s - warmest.time_s, 0.0),
            clamp_age_s=around.clamp_age_s,
            given_kg=around.dispensed_kg - warmest.dispensed_kg,
            left_kg=around.container_left_kg,
            full_kg=around.container_full_kg,
            density_ratio=ratio,
            mean_density_ratio=mean_ratio,
        )
        return vapour_share(
            Flowing(self.hose.length_m, full.mass_kg, around.flow_kg_s, around.through_kg, air_k), source
        )

    def _density_ratio(self, kelvin: float) -> float:
        """Density of liquid over that of vapour, less 1."""
        liquid = self.refrigerant.saturated_liquid_density_kg_m3(kelvin)
        return liquid / self.refrigerant.saturated_vapour_density_kg_m3(kelvin) - 1.0

    def _pulled(self, around: Conditions, time_s: float) -> HoldUp:
        dry = vapour_hold_up(self.hose, self.refrigerant, around.temperature_k, around.circuit_pressure_pa) or NOTHING
        excess = self.held.mass_kg - dry.mass_kg
        if excess <= 0.0:
            return dry
        if not around.engine_running:
            return HoldUp(dry.mass_kg + excess / 2.0, math.hypot(dry.u_kg, excess / math.sqrt(12.0)))
        boils_at_k = self._boils_at_k(around)
        wet = Wet(self.hose.length_m, excess, self.held.u_kg, self.liquid_k, around.temperature_k, boils_at_k)
        left, u_left = left_wet(wet, max(time_s - self.since_s, 0.0))
        return HoldUp(dry.mass_kg + left, math.hypot(dry.u_kg, u_left))

    def _boils_at_k(self, around: Conditions) -> float | None:
        """Where what lies in a hose boils that is open to the circuit; None: unknown."""
        if around.circuit_pressure_pa is None:
            return None
        try:
            return self.refrigerant.bubble_temperature_k(around.circuit_pressure_pa)
        except OutOfRangeError:
            return None


def _warmest(time_s: float, around: Conditions) -> Warmest | None:
    return None if around.container_k is None else Warmest(time_s, around.container_k, around.dispensed_kg)
