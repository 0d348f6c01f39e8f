"""What the hose holds: refrigerant that has left the container and is not in the circuit.

A hose of 1.8 m and 4.8 mm holds some 40 g of liquid R-134a, but less than 1 g of its vapour. Charging equipment is
held to 15 g (SAE J2788, from memory), so a hose of liquid decides whether a charge is right.

* While the container feeds it, the hose holds liquid at its bubble point or vapour at a pressure between those at its
  ends (DROP_SHARE), as the container is drawn.
* Liquid that flows boils a little on its way: see `boiling.py`.
* A hose that the circuit is opened to before it is full fills with what the port does not let through, until some
  FILLS_S later.
* Vapour that feeds a hose with liquid in it (condensed, or left from before) pushes it out: see `sweeping.py`. So does
  that of a container which has given its last liquid (`last_liquid.py`), about as fast as that flowed before.
* Shut at both ends it keeps what it has.
* Shut at the container and open to a running circuit it is pulled dry, see `drying.py`. Vapour at the circuit's
  pressure remains. With the engine standing nothing pulls; how much stays is then unknown between the two.
* An evacuated hose is empty.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from fillmark.engine.around import Conditions
from fillmark.engine.boiling import (
    CLAMP_U_K,
    UNKNOWN_SHARE,
    UNKNOWN_SHARE_U,
    WALL_J_MK,
    Flowing,
    Source,
    cooling,
    still_cold,
    vapour_share,
)
from fillmark.engine.drying import Wet, left_wet
from fillmark.engine.evaporation import density_ratio, evaporation_j_kg
from fillmark.engine.events import Draw
from fillmark.engine.hold_up import NOTHING, HoldUp, anything, liquid_hold_up, vapour_hold_up
from fillmark.engine.setup import Hose
from fillmark.engine.sweeping import NO_SWEEP, SWEPT_KG_S, SWEPT_U, Sweep
from fillmark.refrigerants.protocol import OutOfRangeError, Refrigerant

CLAMP_BEHIND_K = 1.0
"""So much at most a clamp is taken to be behind a container that has just run dry. Judged."""

DROP_SHARE = 0.2
"""Of the fall in pressure from container to circuit, so much lies before the middle of the hose: a port is narrower
than the valve of a container. Common practice, no source."""

WARM_S = 300.0
"""So long after liquid has stood in a hose that is as warm as the air: its wall over its heat to the air, twice."""

RUSHES_S = 4.0
RUSHES_SHARE = 0.05
"""A hose that misses more than such a share of its filling when it is opened fills in a rush, for so long. Judged."""

FILLS_S = 10.0
"""What still misses in a hose when liquid begins to flow through it has come by then. Judged."""

LEAST_SWEPT_KG_S = 6e-3
"""So fast at least does vapour push liquid out: what flowed just before may be the last of it already. Judged."""

SAME_FILLING_U = 0.012
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
        opened_s: when the circuit was opened to a container of liquid; `full_by_s`: until then the hose fills besides;
            `through_from_kg` had flowed through it by then.
        measured: a filling with liquid that the scale has seen whole, else None.
        sweep: liquid that lay in it when vapour began to push it into the circuit.
        dry: whether the container that feeds it has given its last liquid; None: it may have.
        dried_at_k: temperature of the container by then.
        mislabelled: whether that was said, and liquid flowed on.
        used: whether it was ever fed before.
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
    sweep: Sweep = NO_SWEEP
    dry: bool | None = False
    dried_at_k: float | None = None
    mislabelled: bool = False
    opened_s: float = -math.inf
    full_by_s: float = -math.inf
    through_from_kg: float = 0.0
    used: bool = False
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
    def fed_with(self) -> Draw:
        """What the container that is open to it gives."""
        return "vapour" if self.dry else self.draw

    @property
    def clears_s(self) -> float:
        """How long it takes, at a guess, until vapour has pushed the liquid out."""
        return 2.0 * self.sweep.wet.mass_kg / SWEPT_KG_S

    def lets_through_kg_s(self, time_s: float) -> float:
        """The most that is taken to come through the port: a scale still shows for a while how fast the hose filled."""
        return SWEPT_KG_S * (1.0 + SWEPT_U) if time_s < self.full_by_s else math.inf

    def turned(
        self, feed: Feed, around: Conditions, time_s: float, draw: Draw, seen: HoldUp | None = None
    ) -> HoseContent:
        """The content once the ends of the hose change at `time_s`; `seen`: what the scale knows better."""
        if feed is self.feed:
            return self if seen is None or feed is not Feed.SHUT else replace(self, held=seen)
        held = NOTHING if feed is Feed.EMPTY else seen or self.now(around, time_s)
        wets = self.feed is Feed.FED and self.draw == "liquid"
        liquid_k = self.liquid_temperature_k(around) if wets else self.liquid_k
        if feed is Feed.EMPTY or (feed is Feed.FED and (self.feed is Feed.PULLED or time_s > self.since_s + WARM_S)):
            liquid_k = None
        turned = replace(
            self,
            feed=feed,
            since_s=time_s,
            held=held,
            draw=draw,
            measured=self.measured if draw == self.draw else None,
            sweep=NO_SWEEP,
            dry=False,
            mislabelled=False,
            opened_s=-math.inf,
            full_by_s=-math.inf,
            used=self.used or self.feed is Feed.FED,
            liquid_k=liquid_k,
            warmest=_warmest(time_s, around) if feed is Feed.FED else None,
        )
        fed_open = feed is Feed.FED and draw == "liquid" and around.flow_kg_s is not None
        return turned._filling_from(held, around, time_s) if fed_open else turned

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
        if self.fed_with == "liquid":
            return liquid_hold_up(self.hose, self.refrigerant, self.liquid_temperature_k(around))
        behind_pa, ahead_pa = around.container_pressure_pa, around.circuit_pressure_pa
        pressure = behind_pa if ahead_pa is None else ahead_pa
        if behind_pa is not None and ahead_pa is not None:
            pressure = behind_pa - DROP_SHARE * (behind_pa - ahead_pa)
        return vapour_hold_up(self.hose, self.refrigerant, around.temperature_k, pressure)

    def liquid_temperature_k(self, around: Conditions) -> float | None:
        """Temperature of liquid in the hose."""
        container_k, air_k = around.container_k, around.temperature_k
        if container_k is None or air_k is None:
            return air_k
        cold, began_colder_k = still_cold(self._flowing(self.held.mass_kg, 0.0, around.through_kg, air_k), container_k)
        return container_k - cold * began_colder_k

    def condensed(self, around: Conditions, *, used: bool) -> HoldUp | None:
        """Vapour that condenses in an empty hose colder than the container, C L (T - T_hose) / h as in `boiling.py`.

        A new hose is as warm as the air; one that was used is between that and what boils in the circuit.
        None: a temperature is unknown.
        """
        air_k, boils_at_k = around.temperature_k, self._boils_at_k(around)
        if around.container_k is None or air_k is None or (used and boils_at_k is None):
            return None
        try:
            per_kelvin = WALL_J_MK * self.hose.length_m / evaporation_j_kg(self.refrigerant, around.container_k)
        except OutOfRangeError:
            return None
        least = per_kelvin * max(around.container_k - air_k, 0.0)
        if not used or boils_at_k is None:
            return HoldUp(least, math.hypot(CONDENSED_U * least, LEAST_CONDENSED_U_KG))
        most = per_kelvin * max(around.container_k - min(boils_at_k, air_k), 0.0)
        return HoldUp((least + most) / 2.0, math.hypot((most - least) / math.sqrt(12.0), LEAST_CONDENSED_U_KG))

    def opened(self, start: HoldUp, around: Conditions, time_s: float, *, whole: bool) -> HoseContent:
        """The content once the circuit is opened and the scale has seen `start` go in; `whole`: it filled the hose."""
        if self.fed_with == "liquid":
            filled = self._filling_from(start, around, time_s)
            seen = Filling(start.mass_kg, start.u_kg, filled.liquid_temperature_k(around)) if whole else self.measured
            return replace(filled, measured=seen)
        vapour = self.full(around)
        wet_kg = 0.0 if vapour is None else max(start.mass_kg - vapour.mass_kg, 0.0)
        wet = HoldUp(wet_kg, start.u_kg)
        sweep = replace(self.sweep, wet=wet, since_s=time_s) if self.dry else Sweep(wet, time_s)
        return replace(self, held=start, sweep=sweep)

    def _filling_from(self, start: HoldUp, around: Conditions, time_s: float) -> HoseContent:
        """The content once liquid begins to flow through a hose that holds `start`."""
        full = self.filled(around)
        rushes = full is not None and start.mass_kg < (1.0 - RUSHES_SHARE) * full.mass_kg
        return replace(
            self,
            held=start,
            opened_s=time_s,
            full_by_s=time_s + RUSHES_S if rushes else -math.inf,
            through_from_kg=around.through_kg,
        )

    def run_dry(self, held: HoldUp, around: Conditions, time_s: float, pushes_kg: float) -> HoseContent:
        """The content, `held`, once the container that fed it has given its last liquid.

        Vapour begins to push it out, `pushes_kg` at most.
        """
        dry = replace(self, dry=True)
        vapour = dry.full(around) or NOTHING
        wet = HoldUp(max(held.mass_kg - vapour.mass_kg, 0.0), held.u_kg)
        return replace(dry, sweep=Sweep(wet, time_s, max(around.flow_kg_s or 0.0, LEAST_SWEPT_KG_S), pushes_kg))

    def shut_off(self, around: Conditions, time_s: float) -> HoseContent:
        """The content once the circuit is shut: vapour pushes nothing out of it any more."""
        if self.feed is not Feed.FED:
            return self
        liquid_k = self.liquid_temperature_k(around) if self.fed_with == "liquid" else self.liquid_k
        return replace(self, sweep=self.sweep.stopped(self.still_wet(around, time_s)), liquid_k=liquid_k)

    def _fed(self, around: Conditions, time_s: float) -> HoldUp:
        if self.fed_with == "liquid":
            full = self.filled(around) or anything(self.hose, self.refrigerant) or self.held
            if around.flow_kg_s is None:
                return full
            if self.dry is None:
                return HoldUp(full.mass_kg / 2.0, full.mass_kg / math.sqrt(12.0))
            return self._filling(self._boiling(full, around, time_s), around, time_s)
        vapour = self.full(around) or anything(self.hose, self.refrigerant) or self.held
        wet = self.sweep.wet if around.flow_kg_s is None else self.still_wet(around, time_s)
        return HoldUp(vapour.mass_kg + wet.mass_kg, math.hypot(vapour.u_kg, wet.u_kg))

    def still_wet(self, around: Conditions, time_s: float) -> HoldUp:
        """What vapour has not yet pushed into the circuit; of a dry container nobody can weigh that vapour."""
        return self.sweep.left(time_s) if self.dry else self.sweep.left(time_s, around.through_kg)

    def _filling(self, full: HoldUp, around: Conditions, time_s: float) -> HoldUp:
        """A hose that the circuit was opened to before it was full: what the port does not let through fills it."""
        since_s = max(time_s - self.opened_s, 0.0)
        share = math.exp(-((since_s / FILLS_S) ** 2))
        came_kg = max(around.through_kg - self.through_from_kg, 0.0)
        missing_kg = full.mass_kg - self.held.mass_kg - max(came_kg - SWEPT_KG_S * since_s, 0.0)
        if missing_kg <= 0.0:
            return full
        u_kg = min(math.hypot(self.held.u_kg, SWEPT_U * SWEPT_KG_S * since_s), missing_kg)
        mass_kg = min(full.mass_kg - share * missing_kg, self.held.mass_kg + came_kg)
        return HoldUp(mass_kg, math.hypot(full.u_kg, share * u_kg))

    def filled(self, around: Conditions) -> HoldUp | None:
        """As `full`; but a filling that the scale has seen is known against what was dispensed by then."""
        if self.measured is None or self.fed_with != "liquid":
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
        came = 1.0 if full.mass_kg <= 0.0 else 1.0 - math.exp(-around.through_kg / full.mass_kg)
        return HoldUp(full.mass_kg * (1.0 - came * share), math.hypot(full.u_kg, came * full.mass_kg * u_share))

    def _vapour_share(self, full: HoldUp, around: Conditions, time_s: float) -> tuple[float, float] | None:
        """Vapour's share of the room and its standard uncertainty; None where too little is known."""
        source, air_k, flow_kg_s = self._source(around, time_s), around.temperature_k, around.flow_kg_s
        if source is None or air_k is None or flow_kg_s is None:
            return None
        return vapour_share(self._flowing(full.mass_kg, flow_kg_s, around.through_kg, air_k), source)

    def _flowing(self, liquid_kg: float, flow_kg_s: float, through_kg: float, air_k: float) -> Flowing:
        return Flowing(self.hose.length_m, liquid_kg, flow_kg_s, through_kg, air_k, self.liquid_k, self.used)

    def source_k(self, around: Conditions, time_s: float) -> float | None:
        """Temperature of the container while it gives liquid: its clamp is behind, but not by much. None: unknown."""
        source = self._source(around, time_s)
        if source is None:
            return around.container_or_air_k
        return max(cooling(source, around.flow_kg_s or 0.0).container_k, source.clamp_k - CLAMP_BEHIND_K)

    def _source(self, around: Conditions, time_s: float) -> Source | None:
        """The container that gives liquid; None where too little is known of it."""
        warmest, clamp_k = self.warmest, around.container_k
        if warmest is None or clamp_k is None:
            return None
        try:
            mean_k = (clamp_k + warmest.temperature_k) / 2.0
            ratio, mean_ratio = density_ratio(self.refrigerant, clamp_k), density_ratio(self.refrigerant, mean_k)
            heat = evaporation_j_kg(self.refrigerant, mean_k)
        except OutOfRangeError:
            return None
        return Source(
            warmest_k=warmest.temperature_k,
            clamp_k=clamp_k,
            since_s=max(time_s - warmest.time_s, 0.0),
            clamp_age_s=around.clamp_age_s,
            given_kg=around.dispensed_kg - warmest.dispensed_kg,
            left_kg=around.container_left_kg,
            full_kg=around.container_full_kg,
            density_ratio=ratio,
            mean_density_ratio=mean_ratio,
            evaporation_j_kg=heat,
        )

    def _pulled(self, around: Conditions, time_s: float) -> HoldUp:
        dry = vapour_hold_up(self.hose, self.refrigerant, around.temperature_k, around.circuit_pressure_pa) or NOTHING
        excess = self.held.mass_kg - dry.mass_kg
        if excess <= 0.0:
            return dry
        if not around.engine_running:
            return HoldUp(dry.mass_kg + excess / 2.0, math.hypot(dry.u_kg, excess / math.sqrt(12.0)))
        wet = Wet(self.hose.length_m, excess, self.held.u_kg, self.liquid_k, around.temperature_k, *self._boils(around))
        left, u_left = left_wet(wet, max(time_s - self.since_s, 0.0))
        return HoldUp(dry.mass_kg + left, math.hypot(dry.u_kg, u_left))

    def _boils(self, around: Conditions) -> tuple[float, float] | tuple[None, None]:
        """Where what lies in a hose boils that is open to the circuit, K, and its heat of evaporation, J/kg."""
        boils_at_k = self._boils_at_k(around)
        if boils_at_k is None:
            return None, None
        try:
            return boils_at_k, evaporation_j_kg(self.refrigerant, boils_at_k)
        except OutOfRangeError:
            return None, None

    def _boils_at_k(self, around: Conditions) -> float | None:
        if around.circuit_pressure_pa is None:
            return None
        try:
            return self.refrigerant.bubble_temperature_k(around.circuit_pressure_pa)
        except OutOfRangeError:
            return None


def _warmest(time_s: float, around: Conditions) -> Warmest | None:
    return None if around.container_k is None else Warmest(time_s, around.container_k, around.dispensed_kg)
