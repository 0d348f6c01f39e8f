"""The mass on the pan: what a noisy, stepped, disturbed indication says about container and flow.

State x = [m, f]: m gross mass of what stands on the pan (kg), f mass flow out of the container (kg/s).

* Model: m' = -f. While a path is open, f is a random walk with density (FLOW_WALK + FLOW_WALK_SHARE * f)**2 per
  second, since flow pulses with the compressor. While every path is shut, f decays with the scale's own lag and m
  stands still but for drift.
* Measurement: z = m + offset + v. v has the variance of the scale's step (r**2 / 12, GUM F.2.2.1, rectangular) and of
  the unrest of the last digit (half a step).
* offset: what a hose pulling, a hand or a tool adds to the indication. Refrigerant leaves a container continuously;
  a jump that no flow explains goes into the offset and never into the mass.
* For a few seconds after a valve is opened the flow may do anything up to what the bore lets through: an empty hose
  fills in a rush.
* A pull of some tens of grams that begins slowly is partly taken for flow. When it lets go it does so by more than was
  seen of it; then the indication is believed again.
* A reading outside the gate is a suspect. Suspects are held back until they agree with one straight line. If that
  line continues the mass, the flow has changed; if it does not, the pan was disturbed and the step is the offset.

A Kalman filter in two states (Kalman 1960; Bar-Shalom, Li and Kirubarajan 2001, section 6.2: white noise
acceleration) is the smallest estimator that gives mass, flow and their variances from one channel.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

FLOW_WALK_KG_S = 0.25e-3
FLOW_WALK_SHARE = 0.05
OPENING_FLOW_KG_S = 6e-3
FASTEST_FLOW_KG_S = 40e-3
FASTEST_FLOW_BORE_M = 4.8e-3
RUSH_S = 5.0
TAPPED_LATE_S = 1.0
TUG_KG = 60e-3
LET_GO_SHARE = 0.4
LET_GO_KG = 10e-3
LEAVING_KG = 8e-3
LEAVING_STEPS = 8.0
REST_HIDDEN_STEPS = 2.0
REST_SETTLES_S = 2.0
REST_FORGETS_KG_S = 0.01e-3
DRIFT_KG_SQRT_S = 0.01e-3
SETTLING_KG_SQRT_S = 0.5e-3
SETTLING_S = 4.0
GATE_SIGMA = 4.0
GATE_STEPS = 3.0
CONFIRM_S = 1.5
CONFIRM_READINGS = 4
SLOW_CONFIRM_S = 3.0
SLOW_CONFIRM_READINGS = 3
SUSPECTS_KEPT_S = 4.0
STRAIGHT_STEPS = 2.5


class Path(StrEnum):
    """What the recorded valves allow the container to do."""

    HANDLED = "handled"
    """Just mounted and never opened: hands and hoses move it, its mass is being learnt."""
    SHUT = "shut"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class Pan:
    """Estimate at `time_s`. None: nothing was read yet. Variances in kg², kg²/s and kg²/s².

    Attributes:
        lag_s: delay of the indication behind the load.
        fastest_kg_s: what the hose lets through at most.
        loosened_s: when a valve was last opened.
        rest_kg: the mass at rest of a container that was never opened; since `rest_since_s`.
        left_from_kg: mass from which it began to fall like a flow although no valve was ever recorded.
    """

    resolution_kg: float
    lag_s: float
    fastest_kg_s: float = FASTEST_FLOW_KG_S
    path: Path = Path.HANDLED
    path_since_s: float = -math.inf
    time_s: float | None = None
    mass_kg: float = 0.0
    flow_kg_s: float = 0.0
    var_mass: float = 0.0
    cov: float = 0.0
    var_flow: float = 0.0
    offset_kg: float = 0.0
    offset_u_kg: float = 0.0
    accepted_offset_kg: float = 0.0
    suspects: tuple[tuple[float, float], ...] = ()
    readings: int = 0
    loosened_s: float = -math.inf
    rest_kg: float = -math.inf
    rest_since_s: float = math.inf
    left_from_kg: float | None = None

    @property
    def noise_var(self) -> float:
        """Variance of one indication, kg²."""
        return self.resolution_kg**2 * (1.0 / 12.0 + 0.25)

    @property
    def mass_u_kg(self) -> float:
        """Standard uncertainty of the mass against the scale's own zero and span, kg.

        Averaging does not go below the step: an indication at rest repeats the same rounding.
        """
        return math.sqrt(self.var_mass + self.resolution_kg**2 / 12.0 + self.offset_u_kg**2)

    @property
    def pending_offset_kg(self) -> float:
        """Step in the indication that nobody has explained yet, kg."""
        return self.offset_kg - self.accepted_offset_kg

    @property
    def disturbed(self) -> bool:
        """Whether the last readings do not fit what container and flow can do."""
        return len(self.suspects) > 1

    def unread_s(self, time_s: float) -> float:
        """Time since the last indication that was believed, s; 0 before any."""
        return 0.0 if self.time_s is None else max(time_s - self.time_s, 0.0)

    def at(self, time_s: float) -> Pan:
        """The estimate carried on to `time_s` without a reading."""
        if self.time_s is None or time_s <= self.time_s:
            return self
        dt = time_s - self.time_s
        return self._flowing(dt, time_s) if self.path is Path.OPEN else self._resting(dt, time_s)

    def _flowing(self, dt: float, time_s: float) -> Pan:
        density = (FLOW_WALK_KG_S + FLOW_WALK_SHARE * abs(self.flow_kg_s)) ** 2
        return replace(
            self,
            time_s=time_s,
            mass_kg=self.mass_kg - self.flow_kg_s * dt,
            var_mass=self.var_mass - 2.0 * dt * self.cov + dt * dt * self.var_flow + density * dt**3 / 3.0,
            cov=self.cov - dt * self.var_flow - density * dt * dt / 2.0,
            var_flow=self.var_flow + density * dt,
        )

    def _resting(self, dt: float, time_s: float) -> Pan:
        lag = max(self.lag_s, 1e-3)
        left = math.exp(-dt / lag)
        settling = max(0.0, min(time_s, self.path_since_s + SETTLING_S) - (time_s - dt))
        growth = DRIFT_KG_SQRT_S**2 * dt + SETTLING_KG_SQRT_S**2 * settling
        return replace(
            self,
            time_s=time_s,
            mass_kg=self.mass_kg - self.flow_kg_s * lag * (1.0 - left),
            flow_kg_s=self.flow_kg_s * left if left > 1e-9 else 0.0,
            var_mass=self.var_mass + growth,
            cov=0.0,
            var_flow=0.0,
        )

    def last_good(self, time_s: float) -> Pan:
        """The estimate at `time_s`, or at the moment from which readings stopped to fit, if that is earlier."""
        return self.at(min(time_s, self.suspects[0][0]) if self.suspects else time_s)

    def _brought_to(self, time_s: float) -> Pan:
        """The estimate at a moment that changes the model. Pending suspects are decided, or else held against it."""
        if not self.suspects:
            return self.at(time_s)
        line = _Line.through(self.suspects)
        straight = len(self.suspects) > 1 and line.worst_residual_kg <= STRAIGHT_STEPS * self.resolution_kg
        if straight and self.path is Path.OPEN and self._continues(line):
            return self._adopt(line, offset_kg=self.offset_kg, offset_u_kg=self.offset_u_kg).at(time_s)
        held = self.at(self.suspects[0][0])
        doubt = (held.flow_kg_s * (time_s - self.suspects[0][0])) ** 2
        return replace(held, time_s=time_s, var_mass=held.var_mass + doubt)

    def enter(self, path: Path, time_s: float) -> Pan:
        """The same pan once the valves allow `path` from `time_s` on."""
        if path is self.path:
            return self
        moved = replace(self._brought_to(time_s), path=path, path_since_s=time_s)
        if path is Path.OPEN:
            return moved.loosened(time_s)
        unseen = moved.flow_kg_s * (self.unread_s(time_s) + TAPPED_LATE_S)
        return replace(moved, var_mass=moved.var_mass + unseen * unseen / 3.0, cov=0.0, var_flow=0.0)

    def throttled(self, time_s: float) -> Pan:
        """The same pan once a valve behind it was shut: the flow may have ended, though the container is open."""
        if self.path is not Path.OPEN:
            return self
        moved = self._brought_to(time_s)
        unseen = moved.flow_kg_s * (self.unread_s(time_s) + TAPPED_LATE_S)
        return replace(
            moved,
            var_mass=moved.var_mass + unseen * unseen / 3.0,
            var_flow=max(moved.var_flow, moved.flow_kg_s**2),
        )

    def loosened(self, time_s: float) -> Pan:
        """The same pan once a valve was opened: flow is uncertain again."""
        moved = replace(self._brought_to(time_s), loosened_s=time_s)
        if moved.path is not Path.OPEN:
            return moved
        return replace(moved, var_flow=max(moved.var_flow, OPENING_FLOW_KG_S**2))

    def remounted(self, time_s: float) -> Pan:
        """A pan that forgets what stood on it: something else is put there."""
        return Pan(self.resolution_kg, self.lag_s, self.fastest_kg_s, Path.HANDLED, time_s)

    def take(self, time_s: float, indication_kg: float) -> Pan:
        """Take one indication of the scale. Readings must come in order of time."""
        if self.time_s is None:
            first = replace(
                self, time_s=time_s, mass_kg=indication_kg, var_mass=self.noise_var, readings=1, suspects=()
            )
            return replace(first, rest_kg=indication_kg, rest_since_s=time_s)
        ahead = self.at(time_s)
        innovation = indication_kg - ahead.offset_kg - ahead.mass_kg
        variance = ahead.var_mass + self.noise_var
        if abs(innovation) <= max(GATE_SIGMA * math.sqrt(variance), GATE_STEPS * self.resolution_kg):
            corrected = ahead._corrected(innovation, variance)
            return corrected._rested(self.time_s) if self.path is Path.HANDLED else corrected
        held = tuple(s for s in self.suspects if time_s - s[0] <= SUSPECTS_KEPT_S)
        if len(held) < SLOW_CONFIRM_READINGS - 1:
            held = self.suspects[1 - SLOW_CONFIRM_READINGS :]
        return replace(self, suspects=(*held, (time_s, indication_kg)))._judged()

    def _rested(self, before_s: float | None) -> Pan:
        """Keep the mass at rest of a container that was never opened, and tell when it falls away from it.

        Hands move it in jumps and drift is slow; what falls far without a jump leaves as refrigerant.
        """
        time_s = self.time_s or 0.0
        if time_s - self.rest_since_s <= REST_SETTLES_S:
            return replace(self, rest_kg=self.mass_kg)
        forgotten = REST_FORGETS_KG_S * (time_s - (time_s if before_s is None else before_s))
        rest = max(self.mass_kg, self.rest_kg - forgotten)
        leaves = rest - self.mass_kg >= max(LEAVING_KG, LEAVING_STEPS * self.resolution_kg)
        return replace(self, rest_kg=rest, left_from_kg=rest if leaves else self.left_from_kg)

    def explained(self, *, as_refrigerant: bool) -> Pan:
        """Settle the pending step: it was refrigerant that left, or the pan was handled."""
        if not as_refrigerant:
            return replace(self, accepted_offset_kg=self.offset_kg)
        step = self.pending_offset_kg
        return replace(
            self, mass_kg=self.mass_kg + step, offset_kg=self.accepted_offset_kg, offset_u_kg=self.resolution_kg
        )

    def _corrected(self, innovation: float, variance: float) -> Pan:
        gain_mass = self.var_mass / variance
        gain_flow = self.cov / variance
        return replace(
            self,
            mass_kg=self.mass_kg + gain_mass * innovation,
            flow_kg_s=self.flow_kg_s + gain_flow * innovation,
            var_mass=(1.0 - gain_mass) * self.var_mass,
            cov=(1.0 - gain_mass) * self.cov,
            var_flow=self.var_flow - gain_flow * self.cov,
            suspects=(),
            readings=self.readings + 1,
        )

    def _judged(self) -> Pan:
        """Decide what the suspects mean, once the latest of them lie on one line for long enough."""
        line = self._settled_line()
        if line is None:
            return self
        if self.path is Path.HANDLED:
            moved = self._adopt(line, offset_kg=0.0, offset_u_kg=0.0)
            if self._falls_on(line):
                return moved._rested(self.time_s)
            return replace(moved, rest_kg=moved.mass_kg, rest_since_s=line.middle_s, left_from_kg=None)
        if self.path is Path.OPEN and self._continues(line):
            return self._adopt(line, offset_kg=self.offset_kg, offset_u_kg=self.offset_u_kg)
        return self._displaced(line)

    def _settled_line(self) -> _Line | None:
        """A line through the latest suspects; those of a transition before it are passed over."""
        points = self.suspects
        while len(points) >= SLOW_CONFIRM_READINGS:
            span = points[-1][0] - points[0][0]
            soon = span >= CONFIRM_S and len(points) >= CONFIRM_READINGS
            if not soon and span < SLOW_CONFIRM_S:
                return None
            line = _Line.through(points)
            if line.worst_residual_kg <= STRAIGHT_STEPS * self.resolution_kg:
                return line
            points = points[1:]
        return None

    def _falls_on(self, line: _Line) -> bool:
        """Whether a container at rest has begun to fall: the gate hid the beginning of it, and the last digit."""
        if self.time_s is None or not -1e-3 <= line.flow_kg_s <= self.fastest_kg_s:
            return False
        slack = (GATE_STEPS + REST_HIDDEN_STEPS) * self.resolution_kg + 2.0 * math.sqrt(self.var_mass)
        more = max(line.flow_kg_s, 0.0) * (self.suspects[0][0] - self.time_s)
        return -slack - more <= line.at(self.time_s) - self.mass_kg <= slack

    def _continues(self, line: _Line) -> bool:
        """Whether the line can be reached by a change of flow alone since the last good reading."""
        if self.time_s is None or not -1e-3 <= line.flow_kg_s <= self.fastest_kg_s:
            return False
        (first_s, _), (last_s, _) = self.suspects[0], self.suspects[-1]
        if first_s - self.loosened_s <= RUSH_S:
            fallen = self.mass_kg + self.offset_kg - line.at(last_s)
            return (
                -GATE_STEPS * self.resolution_kg
                <= fallen
                <= self.fastest_kg_s * (last_s - self.loosened_s + TAPPED_LATE_S)
            )
        gap = first_s - self.time_s
        more = (line.flow_kg_s - self.flow_kg_s) * gap
        slack = GATE_STEPS * self.resolution_kg + 2.0 * math.sqrt(self.var_mass)
        aside = line.at(self.time_s) - self.offset_kg - self.mass_kg
        return min(more, 0.0) - slack <= aside <= max(more, 0.0) + slack

    def _adopt(self, line: _Line, *, offset_kg: float, offset_u_kg: float) -> Pan:
        """Begin anew on the line."""
        time_s = self.suspects[-1][0]
        flow = max(line.flow_kg_s, 0.0) if self.path is Path.OPEN else 0.0
        return replace(
            self,
            time_s=time_s,
            mass_kg=line.at(time_s) - offset_kg,
            flow_kg_s=flow,
            var_mass=self.noise_var,
            cov=0.0,
            var_flow=(2.0 * FLOW_WALK_KG_S + FLOW_WALK_SHARE * flow) ** 2 if self.path is Path.OPEN else 0.0,
            offset_kg=offset_kg,
            offset_u_kg=offset_u_kg,
            accepted_offset_kg=0.0 if offset_kg == 0.0 else self.accepted_offset_kg,
            suspects=(),
            readings=self.readings + len(self.suspects),
        )

    def _displaced(self, line: _Line) -> Pan:
        """The pan was disturbed: keep the mass, carry the flow on, and put the step into the offset."""
        first_s, last_s = self.suspects[0][0], self.suspects[-1][0]
        before = self.at(first_s)
        flow = self.flow_kg_s if self.path is Path.OPEN else 0.0
        mass = before.mass_kg - flow * (last_s - first_s)
        offset = line.at(last_s) - mass
        slack = GATE_STEPS * self.resolution_kg + 2.0 * math.sqrt(before.var_mass)
        tug = min(LET_GO_SHARE * abs(self.offset_kg), LET_GO_KG) if abs(self.offset_kg) <= TUG_KG else 0.0
        if self.offset_kg != 0.0 and abs(offset) <= max(slack, tug):
            return self._adopt(line, offset_kg=0.0, offset_u_kg=0.0)
        gap = first_s - (first_s if self.time_s is None else self.time_s)
        step = offset - self.offset_kg
        could_be_flow = min(-step, self.fastest_kg_s * gap) if self.path is Path.OPEN and step < 0.0 else 0.0
        u = math.hypot(self.offset_u_kg, could_be_flow / math.sqrt(3.0), math.sqrt(before.var_mass), self.resolution_kg)
        moved = self._adopt(line, offset_kg=offset, offset_u_kg=u)
        return replace(moved, mass_kg=mass, flow_kg_s=flow, var_mass=self.noise_var)


@dataclass(frozen=True, slots=True)
class _Line:
    """A straight line through suspects, by least squares."""

    middle_s: float
    level_kg: float
    slope_kg_s: float
    worst_residual_kg: float

    @classmethod
    def through(cls, points: tuple[tuple[float, float], ...]) -> _Line:
        count = len(points)
        middle = sum(t for t, _ in points) / count
        level = sum(z for _, z in points) / count
        spread = sum((t - middle) ** 2 for t, _ in points)
        slope = sum((t - middle) * (z - level) for t, z in points) / spread if spread > 0.0 else 0.0
        worst = max(abs(z - level - slope * (t - middle)) for t, z in points)
        return cls(middle, level, slope, worst)

    @property
    def flow_kg_s(self) -> float:
        return -self.slope_kg_s

    def at(self, time_s: float) -> float:
        return self.level_kg + self.slope_kg_s * (time_s - self.middle_s)
