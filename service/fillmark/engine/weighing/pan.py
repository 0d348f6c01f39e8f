"""What stands on the pan: what a stepped, disturbed indication says about container and flow.

* `estimate.py`: the filter in mass and flow, its model, noise and sources.
* An indication is the mass, unless something disturbs the pan. What a hose pulling, a hand or a tool adds is the
  offset. Refrigerant leaves a container continuously; a jump that no flow explains goes into the offset and never into
  the mass.
* A reading outside the gate is a suspect. Suspects are held back until they agree with one straight line. If that
  line continues the mass, the flow has changed; if it does not, the pan was disturbed and the step is the offset.
* When the indication comes back to the mass, the offset is gone, and the indication is believed again.
* `stillness.py`: a container that stands shut is weighed by what its last digit does.
* `trend.py`: a pull that grows over seconds hides inside the gate and is told from flow by its speed.
* For a few seconds after a valve is opened the flow may do anything up to what the bore lets through: an empty hose
  fills in a rush.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from fillmark.engine.weighing import suspicion
from fillmark.engine.weighing.estimate import FLOW_WALK_KG_S, FLOW_WALK_SHARE, RUSH_S, Estimate
from fillmark.engine.weighing.line import SLOW_CONFIRM_READINGS, Line, Points, settled_line
from fillmark.engine.weighing.path import Path
from fillmark.engine.weighing.rest import NO_REST, Rest
from fillmark.engine.weighing.stillness import NEVER_STILL, Stillness
from fillmark.engine.weighing.trend import GROWS_S, NO_TREND, Trend, Turn, trend_u_kg
from fillmark.engine.weighing.unrest import NO_UNREST, Unrest

RUSH_SHARE = 0.25
"""Standard deviation of the flow through a valve just opened, as a share of the fastest. Judged."""

FASTEST_FLOW_KG_S = 40e-3
FASTEST_FLOW_BORE_M = 4.8e-3
TAPPED_LATE_S = 1.0
STEPS_OF_NOISE = math.sqrt(3.0)
"""Noise of an indication that flickers by half a step: 1/√3 of it, for r²/12 + (r/2)² = r²/3 (GUM F.2.2.1)."""

GATE_SIGMA = 4.0
BACK_SIGMA = 2.0
"""While suspects wait, the doubt of the flow opens the gate more and more: who comes back must fit better."""

SUSPECTS_KEPT_S = 4.0
SWAYS_S = 3.5
"""No hand leans on the pan more and more evenly for so long. Judged."""

SLOW_PUSH_KG = 20e-3
LET_GO_SHARE_U = 0.55
"""A push grows so far within GROWS_S at the flow's pace; one such offset in five is nothing: ±2u reaches it. Judged."""


@dataclass(frozen=True, slots=True)
class Pan:
    """What is known of the pan.

    Attributes:
        lag_s: delay of the indication behind the load.
        fastest_kg_s: what the hose lets through at most.
        estimate: what the filter follows; None: nothing was read yet.
        trend: what the flow was lately.
        loosened_s: when a valve was last opened.
        fed_s: when the container was opened for the first time and its flow has settled.
        surges_until_s: until then the flow may grow at once: a hose fills, or liquid in it is pushed out first.
        least_kg_s: the least flow that can be: below nothing while the circuit's pressure is above the container's.
        stood_kg: of an unexplained offset, what stood on a bench known to be firm when a valve was opened.
        throttled_kg_s: what flowed when the circuit was shut: no more than that comes to an end.
        rest: of a container that was never opened.
    """

    resolution_kg: float
    lag_s: float
    fastest_kg_s: float = FASTEST_FLOW_KG_S
    path: Path = Path.HANDLED
    path_since_s: float = -math.inf
    estimate: Estimate | None = None
    trend: Trend = NO_TREND
    offset_kg: float = 0.0
    offset_u_kg: float = 0.0
    accepted_offset_kg: float = 0.0
    stood_kg: float = 0.0
    suspects: Points = ()
    readings: int = 0
    loosened_s: float = -math.inf
    fed_s: float = -math.inf
    surges_until_s: float = -math.inf
    least_kg_s: float = 0.0
    throttled_kg_s: float = math.inf
    rest: Rest = NO_REST
    unrest: Unrest = NO_UNREST
    stillness: Stillness = NEVER_STILL

    @property
    def step_kg(self) -> float:
        """What the indication resolves: its step, or a coarser one as noisy as its unrest, see `noise_var`."""
        return max(self.resolution_kg, STEPS_OF_NOISE * self.unrest.rms_kg)

    @property
    def noise_var(self) -> float:
        """Variance of one indication, kg²."""
        return (self.step_kg / STEPS_OF_NOISE) ** 2

    @property
    def reading_var(self) -> float:
        """The same, kg², where the container is known to stand: no more than its stillness says."""
        return min(self.noise_var, self.stillness.reading_var(self.resolution_kg)) if self._stands else self.noise_var

    @property
    def _stands(self) -> bool:
        return self.path is not Path.OPEN and self.unrest.rms_kg == 0.0

    @property
    def believed(self) -> Estimate:
        """What is shown: the filter's estimate; while readings do not fit or a flow cannot be, the trend before that.

        Raises:
            ValueError: nothing was read yet.
        """
        if self.estimate is None:
            raise ValueError("nothing was read yet")
        was = self.trend.anchor or (self.trend.settled if self.suspects else None)
        if was is None or self.path is not Path.OPEN:
            return self.estimate
        return was.flowing(self.suspects[-1][0] if self.suspects else self.estimate.time_s)

    def _before(self, now: Estimate) -> Estimate:
        """The estimate from before the disturbance: what precedes it by seconds has nothing of it in it."""
        return self.trend.anchor or self.trend.settled or now

    @property
    def time_s(self) -> float | None:
        """Time of what is shown; None: nothing was read yet."""
        return None if self.estimate is None else self.believed.time_s

    @property
    def mass_kg(self) -> float:
        """What the scale shows of the container once undisturbed, kg; 0 before anything was read."""
        return 0.0 if self.estimate is None else self.believed.mass_kg

    @property
    def flow_kg_s(self) -> float:
        """Flow out of the container, kg/s."""
        return 0.0 if self.estimate is None else self.believed.flow_kg_s

    @property
    def load_kg(self) -> float:
        """The mass that presses on the pan: the indication lags behind it, see (1) in `estimate.py`."""
        return self.mass_kg - max(self.flow_kg_s, self.least_kg_s) * self.lag_s

    @property
    def weighed_var(self) -> float:
        """Variance of the mass by the indications alone, kg²; at best the rounding of one that stands still."""
        var = 0.0 if self.estimate is None else self.believed.var_mass
        return max(var, self.stillness.rounding_var(self.resolution_kg) if self._stands else self.resolution_kg**2 / 12)

    @property
    def mass_u_kg(self) -> float:
        """Standard uncertainty of the mass against the scale's own zero and span, kg."""
        doubt = self.offset_doubt_kg**2 + (self.trend.excess_kg / 2.0) ** 2
        return math.sqrt(self.weighed_var + self.unrest.var + doubt)

    @property
    def pending_offset_kg(self) -> float:
        """Step in the indication that nobody has explained yet, kg."""
        return self.offset_kg - self.accepted_offset_kg

    @property
    def offset_doubt_kg(self) -> float:
        """Standard uncertainty of the offset, kg: a push that grew at the flow's pace looks like a pull once gone."""
        step = abs(self.pending_offset_kg)
        return math.hypot(self.offset_u_kg, LET_GO_SHARE_U * max(min(step, 2.0 * SLOW_PUSH_KG - step), 0.0))

    @property
    def disturbed(self) -> bool:
        """Whether the last readings do not fit what container and flow can do."""
        return len(self.suspects) > 1 or self.trend.anchor is not None

    def unread_s(self, time_s: float) -> float:
        """Time since what is shown, s; 0 before any."""
        return 0.0 if self.estimate is None else max(time_s - self.believed.time_s, 0.0)

    def at(self, time_s: float) -> Pan:
        """The pan carried on to `time_s` without a reading."""
        if self.estimate is None or time_s <= self.estimate.time_s:
            return self
        return replace(self, estimate=self._carried(self.estimate, time_s))

    def weighed_at(self, time_s: float) -> Pan:
        """The same; but what hands do to a shut container after the last reading is no doubt of what it weighs."""
        return replace(replace(self, path_since_s=-math.inf).at(time_s), path_since_s=self.path_since_s)

    def _carried(self, estimate: Estimate, time_s: float) -> Estimate:
        if time_s <= estimate.time_s:
            return estimate
        if self.path is Path.OPEN:
            rushes = estimate.time_s - self.loosened_s <= RUSH_S
            return estimate.flowing(time_s, RUSH_SHARE * self.fastest_kg_s if rushes else 0.0, self.least_kg_s)
        handled_s = -math.inf if self.stillness.is_still(time_s) else self.path_since_s
        return estimate.resting(time_s, max(self.lag_s, 1e-3), handled_s)

    # What the technician does: see `hands.py`; what his valves do: see `valves.py`.

    def brought_to(self, time_s: float) -> Pan:
        """The pan at a moment that changes the model: whatever is pending is decided with what is known by then."""
        known = self
        if len(known.suspects) > 1:
            whole = Line.through(known.suspects)
            straight = whole.is_straight(known.step_kg)
            line = whole if straight else settled_line(known.suspects, known.step_kg)
            if line is not None and known._flows_on(line):
                known = known._turned(line)
            elif line is not None and not suspicion.rises(line):
                known = known._displaced(line, at_once=True)
        return replace(known._concluded(), suspects=()).at(time_s)

    def _concluded(self) -> Pan:
        """The pan without a watched flow: it is held for a pull, with the doubt that it was flow."""
        if self.trend.anchor is None:
            return replace(self, trend=NO_TREND)
        return replace(self.pulled(abs(self.trend.excess_kg) / math.sqrt(3.0)), trend=NO_TREND)

    # What the scale says.

    def take(self, time_s: float, indication_kg: float) -> Pan:
        """Take one indication of the scale. Readings must come in order of time."""
        if self.estimate is None:
            first = Estimate(time_s, indication_kg, 0.0, self.noise_var)
            return replace(self, estimate=first, readings=1, suspects=(), rest=Rest(indication_kg, time_s))
        ahead = self._carried(self.estimate, time_s)
        innovation = indication_kg - self.offset_kg - ahead.mass_kg
        variance = ahead.var_mass + self.noise_var
        surges = time_s <= self.surges_until_s
        if abs(innovation) <= self._gate_kg(ahead, variance) and (
            surges or not suspicion.freed(innovation, self.pending_offset_kg, self.step_kg)
        ):
            alike = self.unrest.alike(time_s - self.estimate.time_s)
            return self._followed(ahead.corrected(innovation, ahead.var_mass + self.reading_var * alike))
        held = tuple(s for s in self.suspects if time_s - s[0] <= SUSPECTS_KEPT_S)
        if len(held) < SLOW_CONFIRM_READINGS - 1:
            held = self.suspects[1 - SLOW_CONFIRM_READINGS :]
        return replace(self, suspects=(*held, (time_s, indication_kg)))._judged()

    def _gate_kg(self, ahead: Estimate, variance: float) -> float:
        """How far an indication may lie off what is expected."""
        least = suspicion.GATE_STEPS * self.step_kg
        sigmas = BACK_SIGMA if len(self.suspects) > 1 else GATE_SIGMA
        before_s = ahead.time_s if self.estimate is None else self.estimate.time_s
        ends = self.throttled_kg_s * (ahead.time_s - before_s + TAPPED_LATE_S)
        return max(least, min(sigmas * math.sqrt(variance), least + ends))

    def _followed(self, now: Estimate) -> Pan:
        """The pan once the filter has taken an indication."""
        readings = self.readings + 1
        if self.path is not Path.OPEN:
            taken = replace(self, estimate=now, suspects=(), readings=readings)
            if self.path is not Path.HANDLED:
                return taken
            before_s = now.time_s if self.estimate is None else self.estimate.time_s
            return replace(taken, rest=self.rest.seen(now.time_s, now.mass_kg, before_s, self.step_kg))
        trend, turn = self._trend_after(now)
        taken = replace(self, estimate=now, trend=trend, suspects=(), readings=readings)
        return taken.pulled() if turn is Turn.PULLED else taken

    def _trend_after(self, now: Estimate) -> tuple[Trend, Turn]:
        """The trend after one more estimate; while the flow surges there is none."""
        if now.time_s <= self.surges_until_s:
            return self.trend, Turn.NONE
        leant_on = self.pending_offset_kg != 0.0
        return self.trend.followed(now, self.step_kg, leant_on=leant_on, least_kg_s=self.least_kg_s)

    def pulled(self, doubt_kg: float = 0.0, anchor: Estimate | None = None) -> Pan:
        """The watched flow was a pull: the mass went on by its trend, or `anchor`'s, and the excess is the offset."""
        now, anchor = self.estimate, anchor or self.trend.anchor
        if now is None or anchor is None:
            return self
        ahead = anchor.flowing(now.time_s)
        u_mass = math.hypot(math.sqrt(anchor.var_mass), trend_u_kg(anchor, now.time_s), doubt_kg)
        left = self.offset_kg + now.mass_kg - ahead.mass_kg
        if self.offset_kg != 0.0 and abs(left) <= suspicion.GATE_STEPS * self.step_kg + u_mass:
            shown = replace(now, mass_kg=now.mass_kg + self.offset_kg)
            return replace(self.begun(shown, 0.0, 0.0), readings=self.readings)
        u = math.hypot(self.offset_u_kg, u_mass)
        flow = ahead.flow_kg_s if self.trend.impossible(now.flow_kg_s, self.least_kg_s) else now.flow_kg_s
        var_flow = max(now.var_flow, ahead.var_flow / 4.0)
        on = Estimate(now.time_s, ahead.mass_kg, flow, self.noise_var, 0.0, var_flow)
        return replace(self, estimate=on, offset_kg=left, offset_u_kg=u, trend=self.trend.afresh())

    def _judged(self) -> Pan:
        """Decide what the suspects mean, once the latest of them lie on one line for long enough."""
        line = suspicion.line_of(self.suspects, self._settled_s, self.step_kg)
        if line is None:
            return self
        if self.path is Path.HANDLED:
            moved = self.adopt(line, offset_kg=0.0, offset_u_kg=0.0)
            if suspicion.falls_on(line, self.believed, self.suspects[0][0], self.fastest_kg_s, self.step_kg):
                time_s = self.suspects[-1][0]
                return replace(moved, rest=self.rest.seen(time_s, moved.mass_kg, line.begins_s, self.step_kg))
            return replace(moved, rest=Rest(moved.mass_kg, line.middle_s))
        if self._flows_on(line):
            return self._turned(line)
        return self._displaced(line)

    @property
    def _settled_s(self) -> float:
        """When the scale has settled after what disturbed it."""
        return -math.inf if self.estimate is None else self.estimate.time_s + suspicion.SETTLED_LAGS * self.lag_s

    def _flows_on(self, line: Line) -> bool:
        """Whether the line is that of the mass, its flow having changed; not where it shows that an offset has gone."""
        was, step = self.estimate, self.step_kg
        if was is None or self.path is not Path.OPEN:
            return False
        if self.offset_kg != 0.0 and suspicion.uncovers(line, self._carried(was, self.suspects[-1][0]), step):
            return False
        if self.pending_offset_kg != 0.0 and self._sways(line):
            return False
        shown = replace(was, mass_kg=was.mass_kg + self.offset_kg)
        loses = self.least_kg_s == 0.0 and was.time_s > self.surges_until_s
        if loses and suspicion.rose(self.suspects, shown, step):
            return False
        return suspicion.continues(line, shown, self.suspects[0][0], (self.least_kg_s, self.fastest_kg_s), step)

    def _sways(self, line: Line) -> bool:
        """Whether the line is that of a hand which holds the container: no flow, and it does not last as one would."""
        if self.suspects[-1][0] <= self.surges_until_s or not self.trend.impossible(line.flow_kg_s, self.least_kg_s):
            return False
        return line.flow_kg_s < 0.0 or line.span_s < min(SWAYS_S, SUSPECTS_KEPT_S - line.interval_s)

    def adopt(self, line: Line, *, offset_kg: float, offset_u_kg: float) -> Pan:
        """Begin anew on the line that the latest suspects lie on."""
        time_s, is_open = self.suspects[-1][0], self.path is Path.OPEN
        flow = max(line.flow_kg_s, self.least_kg_s) if is_open else 0.0
        var_flow = (2.0 * FLOW_WALK_KG_S + FLOW_WALK_SHARE * abs(flow)) ** 2 if is_open else 0.0
        return self.begun(
            Estimate(time_s, line.at(time_s) - offset_kg, flow, self.reading_var, 0.0, var_flow), offset_kg, offset_u_kg
        )

    def begun(self, estimate: Estimate, offset_kg: float, offset_u_kg: float) -> Pan:
        """Begin anew with an estimate and an offset, kg, its standard uncertainty beside it."""
        return replace(
            self,
            estimate=estimate,
            trend=self.trend.afresh(),
            offset_kg=offset_kg,
            offset_u_kg=offset_u_kg,
            accepted_offset_kg=0.0 if offset_kg == 0.0 else self.accepted_offset_kg,
            stood_kg=0.0 if offset_kg == 0.0 else self.stood_kg,
            suspects=(),
            readings=self.readings + len(self.suspects),
        )

    def _turned(self, line: Line) -> Pan:
        """The flow has changed: go on from the line, and see whether so much flow can be."""
        moved = self.adopt(line, offset_kg=self.offset_kg, offset_u_kg=self.offset_u_kg)
        if moved.estimate is None or moved.estimate.time_s <= self.surges_until_s:
            return moved
        trend, turn = self._trend_after(moved.estimate)
        watched = replace(moved, trend=trend)
        return watched.pulled() if turn is Turn.PULLED else watched

    def _displaced(self, line: Line, *, at_once: bool = False) -> Pan:
        """The pan was disturbed: keep the mass, carry the flow on, and put the step into the offset.

        The scale settles, and a pull may still grow: while a path is open, wait for a line that falls like the flow. If
        none comes, the flow has changed as well, nobody knows when.
        """
        now, last_s = self.estimate, self.suspects[-1][0]
        if now is None:
            return self
        is_open, waited = self.path is Path.OPEN, last_s - now.time_s
        was = self._before(now) if is_open else replace(now, flow_kg_s=0.0, var_flow=0.0)
        if is_open and math.isfinite(self.throttled_kg_s):  # of what flowed, no more goes on than the line shows
            was = replace(was, flow_kg_s=min(max(line.flow_kg_s, self.least_kg_s), self.throttled_kg_s))
        flow = was.flow_kg_s
        if is_open and not at_once and not suspicion.falls_like(line, flow, self._settled_s, self.step_kg):
            if waited <= GROWS_S:
                return self
            if suspicion.falls_like(line, now.flow_kg_s, self._settled_s, self.step_kg):
                was, flow = now, now.flow_kg_s
            elif line.begins_s <= now.time_s + GROWS_S:
                return self
            else:
                flow = was.flow_kg_s if self._sways(line) else max(line.flow_kg_s, self.least_kg_s)
        mass = self._carried(was, now.time_s).mass_kg - (max(was.flow_kg_s, self.least_kg_s) + flow) / 2.0 * waited
        offset = line.at(last_s) - mass
        u_changed = (flow - was.flow_kg_s) * waited / math.sqrt(12.0)
        u_mass = math.hypot(math.sqrt(was.var_mass), trend_u_kg(was, last_s), u_changed)
        if self._let_go(offset, u_mass):
            hidden_u_kg = suspicion.hidden_u_kg(self.offset_kg, u_mass, self.step_kg)
            free = self.adopt(line, offset_kg=0.0, offset_u_kg=hidden_u_kg if self.unrest.rms_kg > 0.0 else 0.0)
            return replace(free, trend=free.trend.unpaused())
        u = math.hypot(self.offset_u_kg, u_mass, self.step_kg)
        begun = self.adopt(line, offset_kg=offset, offset_u_kg=u)
        var_flow = 0.0 if begun.estimate is None else begun.estimate.var_flow
        return replace(begun, estimate=Estimate(last_s, mass, flow, self.noise_var, 0.0, var_flow))

    def _let_go(self, offset_kg: float, u_kg: float) -> bool:
        """Whether an offset that would be left is nil: what pulled has let go, and the indication is believed again."""
        if self.offset_kg == 0.0 and self.trend.anchor is None:
            return self.trend.paused_by(offset_kg, self.suspects[-1][0], suspicion.GATE_STEPS * self.step_kg)
        return suspicion.nil(offset_kg, u_kg, self.offset_kg, self.step_kg)
