"""One simulated charge in a closed loop: what the weigher and simpler methods say of it, and what is true.

The technician of the simulator closes the valve when the weigher says so. While the circuit is open, the shown masses
are compared every LIVE_EVERY_S with the truth at the moment of the indication from which they come.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from fillmark.wire.senml import Record
from fillmark_sim.bay import Bay
from fillmark_sim.campaign.conditions import sample
from fillmark_sim.campaign.method import Method, MethodMaker, feed
from fillmark_sim.campaign.track import Told, Track
from fillmark_sim.campaign.weigher import Weighed, Weigher
from fillmark_sim.scenario import Scenario

LIVE_EVERY_S = 1.0
PULSE_S = 0.25
"""The technician watches a live display: a call comes when it is due, not with the scale's next word."""

FALSE_KG = 0.010
"""A call is false when who obeys it lands so far below the aim; it is missed when so much is above it without one."""

CYLINDER_VALVE_M = 2.5e-3
"""A container with a wider valve is a cylinder."""


@dataclass(frozen=True, slots=True)
class Live:
    """What was shown at one moment, less what was true, kg."""

    charged_error_kg: float
    charged_u_kg: float
    dispensed_error_kg: float
    method_errors_kg: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Outcome:
    """One charge. Masses kg; errors are shown less true.

    Attributes:
        method_errors_kg: error of each method's dispensed mass at the end.
        hand_error_kg: where the technician without a scale lands, less the aim; None for a cylinder.
        reached: whether so much went in that a call was owed.
        false_call: whether who obeys the first call lands far short of the aim.
    """

    disturbance: str
    seed: int
    error_kg: float
    u_kg: float
    landing_kg: float
    dispensed_error_kg: float
    method_errors_kg: tuple[float, ...]
    hand_error_kg: float | None
    calls: int
    reached: bool
    false_call: bool
    live: tuple[Live, ...]

    @property
    def missed_call(self) -> bool:
        """Whether the aim was passed without a call."""
        return self.reached and self.calls == 0

    @property
    def covered(self) -> bool:
        """Whether the truth lies within twice the standard uncertainty."""
        return abs(self.error_kg) <= 2.0 * self.u_kg


class SilentWeigherError(RuntimeError):
    """A weigher that shows nothing at the end of a charge cannot be scored."""


class _Watch:
    """What is shown while the circuit is open, once every LIVE_EVERY_S."""

    def __init__(self, weigher: Weigher, methods: Sequence[Method]) -> None:
        self._weigher = weigher
        self._methods = methods
        self._told = Told()
        self._shown: list[tuple[float, Weighed, tuple[float, ...]]] = []

    def take(self, records: Sequence[Record]) -> None:
        """A pack has arrived, and whoever weighs has taken it."""
        self._told.hear(records)
        if not self._told.circuit_open:
            return
        now = self._weigher.weighed()
        if now is None or now.at_s is None or (self._shown and now.at_s < self._shown[-1][0] + LIVE_EVERY_S):
            return
        self._shown.append((now.at_s, now, tuple(method.dispensed_kg for method in self._methods)))

    def against(self, track: Track) -> tuple[Live, ...]:
        """All that was shown, less what was true."""
        return tuple(
            Live(
                shown.charged_kg - track.charged_kg(at_s),
                shown.charged_u_kg,
                shown.dispensed_kg - track.dispensed_kg(at_s),
                tuple(one - track.dispensed_kg(at_s) for one in others),
            )
            for at_s, shown, others in self._shown
        )


def run_charge(
    disturbance: str,
    seed: int,
    step_kg: float,
    weigher: Weigher,
    makers: Mapping[str, MethodMaker],
    *,
    by_hand: bool = True,
) -> Outcome:
    """Simulate one charge of a class and seed on a scale of this step, and judge what was shown.

    Args:
        disturbance: name of the class.
        seed: decides the charge.
        step_kg: step of the scale, kg.
        weigher: a fresh one, whom the technician obeys.
        makers: simpler methods to be tried on the same readings.
        by_hand: whether a technician without a scale charges the same circuit too.

    Raises:
        SilentWeigherError: the weigher shows nothing at the end.
    """
    scenario = sample(seed, disturbance, step_kg)
    bay, track = Bay(scenario, seed), Track()
    methods = [make(step_kg) for make in makers.values()]
    watch = _Watch(weigher, methods)
    for pack in bay.packs(PULSE_S):
        track.note(bay)
        weigher.take(pack.records, pack.arrival_s)
        for method in methods:
            feed(method, pack.records)
        watch.take(pack.records)
        for stop_point in weigher.active():
            bay.hear(stop_point)
    track.note(bay)
    truth, last, calls_s = bay.truth, weigher.weighed(), weigher.called_at_s()
    if last is None:
        raise SilentWeigherError(f"{disturbance} {seed}: the weigher shows nothing at the end")
    called_kg = track.charged_kg(calls_s[0] + scenario.technician.reaction_s) if calls_s else math.inf
    return Outcome(
        disturbance,
        seed,
        error_kg=last.charged_kg - truth.charged_kg,
        u_kg=last.charged_u_kg,
        landing_kg=truth.charged_kg - truth.aim_kg,
        dispensed_error_kg=last.dispensed_kg - truth.dispensed_kg,
        method_errors_kg=tuple(method.dispensed_kg - truth.dispensed_kg for method in methods),
        hand_error_kg=_by_hand_kg(scenario, seed) if by_hand else None,
        calls=len(calls_s),
        reached=bool(calls_s) or truth.charged_kg > truth.aim_kg + FALSE_KG,
        false_call=called_kg < truth.aim_kg - FALSE_KG,
        live=watch.against(track),
    )


def _by_hand_kg(scenario: Scenario, seed: int) -> float | None:
    """Where a technician without a scale lands, less the aim. None: nobody judges a large cylinder by its heft.

    The events of the scenario spare him.
    """
    if any(one.valve_m > CYLINDER_VALVE_M for one in scenario.containers):
        return None
    alone = replace(scenario, technician=replace(scenario.technician, policy="counts_cans"), events=())
    bay = Bay(alone, seed, watched=False)
    for _ in bay.packs():
        pass
    return bay.truth.charged_kg - bay.truth.aim_kg
