"""A flow that cannot be: told from the trend before it, and held back until it is known what it was.

A hose that begins to pull over seconds looks like flow: no reading stands out from the one before. But refrigerant does
not come out faster than it ever did since the valve was opened, nor does it go back in. Hypotheses:

* H1, flow: what the filter follows.
* H2, a pull: the flow went on as it was, and the rest is an offset.

The excess is what the indication has fallen beyond the trend of `KEPT_S` before:

    E = m_r - f_r (t - t_r) - z,    u²(E) = u²(m_r) + (u(f_r) + FLOW_SHARE_U f_r)² (t - t_r)²

since a flow is pulsed and cooled about its mean: it does not walk away from it as (2) in `estimate.py` would let it.

| the flow | then |
|---|---|
| cannot be, and abs(E) > EXCESS_SIGMA u(E) | it is watched: H2 is shown, and E is in doubt |
| watched, and E is gone | neither: it was a bump |
| watched, and back on the trend of before a pause | neither: what leant on the pan then has let go |
| watched, and an ordinary one again for RETURNED_S | H2: -E is the offset |
| the same, but it was hardly faster than can be, and has stayed so | H1: it has grown |
| watched for GROWS_S, and still so fast | H1: nothing pulls for so long, the flow has truly grown |
| the same, while something leans on the pan | the same after LEANS_S: a hand sways |

A flow that pauses, or comes back to what it was, is an ordinary one: compressors cycle. But something must have slowed
it then. Where it has left its pace and come back to it, and has missed more than is in doubt, that is a *swerve*, and
the pressures may tell whether it was flow at all: see `swerves.py`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import Enum

from fillmark.engine.weighing.estimate import Estimate

SURE_KG_S = 0.2e-3
"""A flow whose standard uncertainty is above this and a share of it is too young to have a trend."""

KEPT_S = 4.5
EVERY_S = 0.9
LEAST_KEPT = 3
EXCESS_SIGMA = 2.0
EXCESS_STEPS = 4.0
GONE_SIGMA = 1.0
GONE_STEPS = 2.0
FASTER = 1.3
FASTER_KG_S = 0.3e-3
"""A flow above FASTER times the fastest so far and so much more is none."""

HARDLY = 1.5
"""What has exceeded the fastest by no more than so many of these margins is hardly faster than can be. Judged."""

BACKWARD_KG_S = 1e-3
RISES_STEPS = 3.0
"""Nor is one that fast backward that makes the mass rise. A container that is empty and cold may draw a little back."""

FLOW_SHARE_U = 0.08
"""Standard uncertainty of a flow's mean over seconds, as a share of it: compressor and cooling. Judged."""

STEADY_SHARE_U = 0.04
"""The same where the flow has come back to its pace, and its mean before and after is taken. Judged."""

FORGETS_S = 60.0
"""The fastest flow is forgotten so slowly: a compressor's cycle is shorter."""

USUAL_KG_S = 1.5e-3
"""So much may flow through an open path at any time, however long it stood still. Common practice, no source."""

PAUSE_KEPT_S = 75.0
PAUSE_SHARE = 0.3
SLOWER = 0.7
"""A flow below SLOWER times the trend pauses: a compressor stands still, or something begins to lean on the pan."""

PACE_SHARE = 0.1
"""A flow has its pace again within such a share of it. Judged."""

SWERVES = 2
SWERVES_KEPT_S = 120.0
"""What leans on the pan comes and goes; a flow that swerves more often within that time swings, or the bench shakes."""

RETURNED_S = 1.2
GROWS_S = 8.0
"""A hand or a hose that comes to rest does so within this. Common practice, no source."""

LEANS_S = 2.0 * GROWS_S
"""A hand that holds the container sways by a third of its weight in some ten seconds. Common practice, no source."""

SLOWED_S = 2.0 * GROWS_S
"""A flow that is slower for longer, the filter's own lag included, has truly changed."""


def trend_u_kg(was: Estimate, time_s: float, share_u: float = FLOW_SHARE_U) -> float:
    """Standard uncertainty of what has flowed from an estimate on to `time_s`, kg."""
    return (math.sqrt(was.var_flow) + share_u * abs(was.flow_kg_s)) * max(time_s - was.time_s, 0.0)


def _excess(was: Estimate, now: Estimate, share_u: float = FLOW_SHARE_U) -> tuple[float, float]:
    fallen = was.mass_kg - max(was.flow_kg_s, 0.0) * (now.time_s - was.time_s) - now.mass_kg
    return fallen, math.hypot(math.sqrt(was.var_mass), trend_u_kg(was, now.time_s, share_u))


def _swerves(was: Estimate, now: Estimate) -> bool:
    """Whether the flow has left the pace that it had."""
    return not SLOWER * was.flow_kg_s <= now.flow_kg_s <= FASTER * was.flow_kg_s + FASTER_KG_S


class Turn(Enum):
    """What a look at the trend has decided."""

    NONE = "none"
    PULLED = "pulled"


@dataclass(frozen=True, slots=True)
class Swerve:
    """A flow that has left its pace and come back to it, in the mean that of `was`.

    `missed_kg` has come less, or more, below 0.
    """

    was: Estimate
    missed_kg: float


@dataclass(frozen=True, slots=True)
class Trend:
    """What the flow was lately.

    Attributes:
        kept: estimates of the last seconds, oldest first.
        fastest_kg_s: the fastest settled flow of the last minute or so.
        anchor: the estimate before the flow became one that cannot be; None while it is an ordinary one.
        watched_s: since when; `ordinary_s`: since when it is an ordinary one again.
        excess_kg: how far the indication has fallen below the anchor's trend; `peak_kg_s`: the fastest flow since.
        pause_kg: the last excess of a flow that slowed down, at `paused_s`, against `paused_from` before it.
        slows: whether it still does.
        swerved_from: the estimate before the flow left its pace, faster or slower; None while it keeps it.
        swerve: what the flow had missed when it last had its pace again, if that tells.
        swerved_s: when such was the case lately; `paced_s`: when the flow last had its pace again.
    """

    kept: tuple[Estimate, ...] = ()
    fastest_kg_s: float = 0.0
    anchor: Estimate | None = None
    watched_s: float = 0.0
    ordinary_s: float | None = None
    excess_kg: float = 0.0
    peak_kg_s: float = 0.0
    pause_kg: float = 0.0
    paused_s: float = -math.inf
    paused_from: Estimate | None = None
    slows: bool = False
    swerved_from: Estimate | None = None
    swerve: Swerve | None = None
    swerved_s: tuple[float, ...] = ()
    paced_s: float = -math.inf

    @property
    def settled(self) -> Estimate | None:
        """The oldest estimate kept; None where the flow is too young to have a trend."""
        return self.kept[0] if len(self.kept) >= LEAST_KEPT else None

    def _bound_kg_s(self, margins: float) -> float:
        usual = max(self.fastest_kg_s, USUAL_KG_S)
        return usual + margins * ((FASTER - 1.0) * usual + FASTER_KG_S)

    def impossible(self, flow_kg_s: float, least_kg_s: float = 0.0) -> bool:
        """Whether a flow is faster than any before, or backward by more than the least that can be."""
        return flow_kg_s > self._bound_kg_s(1.0) or flow_kg_s < min(least_kg_s, -BACKWARD_KG_S)

    def _has_grown(self, flow_kg_s: float) -> bool:
        """Whether a watched flow that is an ordinary one again has grown: it was hardly too fast, and stays about so.

        Pulls are far faster, and after them the flow is the one of before.
        """
        return flow_kg_s > self._bound_kg_s(0.5) and self.peak_kg_s <= self._bound_kg_s(HARDLY)

    def followed(
        self, now: Estimate, resolution_kg: float, *, leant_on: bool = False, least_kg_s: float = 0.0
    ) -> tuple[Trend, Turn]:
        """The trend after one more estimate of the filter.

        `leant_on`: something leans on the pan already. `least_kg_s`: the least flow that can be.
        """
        ordinary = not self.impossible(now.flow_kg_s, least_kg_s)
        if self.anchor is not None:
            return self._watched(self.anchor, now, resolution_kg, leant_on=leant_on, ordinary=ordinary)
        if len(self.kept) >= LEAST_KEPT and not ordinary:
            excess, u = _excess(self.kept[0], now)
            rises = now.mass_kg - min(k.mass_kg for k in self.kept) > RISES_STEPS * resolution_kg
            if abs(excess) > max(EXCESS_SIGMA * u, EXCESS_STEPS * resolution_kg) and (excess > 0.0 or rises):
                watched = replace(self, kept=(), anchor=self.kept[0], watched_s=now.time_s, ordinary_s=None)
                return replace(watched, excess_kg=excess, peak_kg_s=now.flow_kg_s), Turn.NONE
        paced = self if least_kg_s < 0.0 else self._slowed(now, resolution_kg)._paced(now, resolution_kg)
        return paced._kept_up(now, leant_on=leant_on), Turn.NONE

    def _paced(self, now: Estimate, resolution_kg: float) -> Trend:
        """The trend with what the flow's pace tells: whether it has left it, and come back."""
        was = self.swerved_from or self.settled
        if was is None:
            return self
        if self.swerved_from is None:
            leaves = was.time_s >= self.paced_s and _swerves(was, now)
            return replace(self, swerved_from=was) if leaves else self
        if now.time_s - was.time_s > SLOWED_S:
            changed = self.unpaused() if now.flow_kg_s <= SLOWER * was.flow_kg_s else self
            return replace(changed, swerved_from=None)
        if abs(now.flow_kg_s - was.flow_kg_s) > PACE_SHARE * was.flow_kg_s:
            return self
        flow, var_flow = (was.flow_kg_s + now.flow_kg_s) / 2.0, (was.var_flow + now.var_flow) / 4.0
        mean = replace(was, flow_kg_s=flow, var_flow=var_flow)
        excess, u = _excess(mean, now, STEADY_SHARE_U)
        back = replace(self, swerved_from=None, paced_s=now.time_s)
        if abs(excess) <= max(EXCESS_SIGMA * u, EXCESS_STEPS * resolution_kg):
            return back
        lately = tuple(time_s for time_s in self.swerved_s if now.time_s - time_s <= SWERVES_KEPT_S)
        swerve = Swerve(mean, -excess) if len(lately) < SWERVES else self.swerve
        return replace(back, swerve=swerve, swerved_s=(*lately, now.time_s))

    def _slowed(self, now: Estimate, resolution_kg: float) -> Trend:
        """The trend with the pause that a slower flow makes."""
        was = self.paused_from if self.slows else self.settled
        if was is None or now.flow_kg_s > SLOWER * was.flow_kg_s:
            return replace(self, slows=False) if self.slows else self
        if now.time_s - was.time_s > SLOWED_S:
            return self.unpaused() if self.slows else self
        excess, _ = _excess(was, now)
        if excess > -GONE_STEPS * resolution_kg:
            return self
        if not self.slows and excess > self.pause_kg and now.time_s - self.paused_s <= PAUSE_KEPT_S:
            return self
        return replace(self, pause_kg=excess, paused_s=now.time_s, paused_from=was, slows=True)

    def _kept_up(self, now: Estimate, *, leant_on: bool) -> Trend:
        kept = self.kept
        if kept and now.time_s - kept[-1].time_s < EVERY_S:
            return self
        unsure = math.sqrt(now.var_flow) > SURE_KG_S + FLOW_SHARE_U * abs(now.flow_kg_s)
        if unsure or now.flow_kg_s < -FASTER_KG_S:
            return self
        while len(kept) > LEAST_KEPT and now.time_s - kept[0].time_s > KEPT_S:
            kept = kept[1:]
        if not kept:
            return replace(self, kept=(now,))
        settled = kept[0].flow_kg_s
        forgotten = (self.fastest_kg_s - settled) * math.exp((kept[-1].time_s - now.time_s) / FORGETS_S)
        fastest = self.fastest_kg_s if leant_on else max(settled, settled + forgotten)
        return replace(self, kept=(*kept, now), fastest_kg_s=fastest)

    def paused_by(self, step_kg: float, time_s: float, slack_kg: float) -> bool:
        """Whether a step down undoes a pause of the flow: then something leant on the pan, and has let go."""
        hidden_kg, more_kg = self.hidden_kg(time_s), -step_kg
        tells = hidden_kg >= 2.0 * slack_kg / 3.0 and more_kg > 0.0
        return tells and abs(more_kg - hidden_kg) <= max(slack_kg, PAUSE_SHARE * more_kg)

    def hidden_kg(self, time_s: float) -> float:
        """What a pause of the flow may have hidden: as much less came than before; 0 where none was of late."""
        return max(-self.pause_kg, 0.0) if time_s - self.paused_s <= PAUSE_KEPT_S else 0.0

    def unpaused(self) -> Trend:
        """The trend once a step has undone the pause, which excuses no other."""
        return replace(self, pause_kg=0.0, paused_from=None, slows=False)

    def _resumed(self, now: Estimate, step_kg: float, resolution_kg: float) -> bool:
        """Whether a step has undone a pause, and the mass is back on the trend of before it."""
        if self.paused_from is None or not self.paused_by(step_kg, now.time_s, EXCESS_STEPS * resolution_kg):
            return False
        excess, u = _excess(self.paused_from, now)
        return abs(excess) <= max(GONE_SIGMA * u, GONE_STEPS * resolution_kg)

    def _watched(
        self, anchor: Estimate, now: Estimate, resolution_kg: float, *, leant_on: bool, ordinary: bool
    ) -> tuple[Trend, Turn]:
        excess, u = _excess(anchor, now)
        if ordinary and abs(excess) <= max(GONE_SIGMA * u, GONE_STEPS * resolution_kg):
            return self.afresh(), Turn.NONE
        if ordinary and self._resumed(now, -excess, resolution_kg):
            return self.afresh().unpaused(), Turn.NONE
        since = now.time_s if self.ordinary_s is None else self.ordinary_s
        peak = max(self.peak_kg_s, now.flow_kg_s)
        seen = replace(self, ordinary_s=since if ordinary else None, excess_kg=excess, peak_kg_s=peak)
        returned = ordinary and now.time_s - since >= RETURNED_S
        if returned and not seen._has_grown(now.flow_kg_s):
            return seen, Turn.PULLED
        if not returned and (ordinary or now.time_s - self.watched_s <= (LEANS_S if leant_on else GROWS_S)):
            return seen, Turn.NONE
        if now.flow_kg_s < 0.0:
            return seen, Turn.PULLED
        return replace(self.afresh(), fastest_kg_s=now.flow_kg_s), Turn.NONE

    def afresh(self) -> Trend:
        """A trend that begins anew, for a flow that it knows."""
        return replace(self, kept=(), anchor=None, ordinary_s=None, excess_kg=0.0, swerved_from=None)


NO_TREND = Trend()
