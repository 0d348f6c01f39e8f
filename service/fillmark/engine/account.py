"""The account of the charge: what left the containers, and where it went.

    dispensed = charged + hose hold-up + lost + purged + recovered

The circuit is charged only while a valve to it is open: a *fill*. During a fill, what leaves the container and does
not stay in the hose has gone into the circuit. What leaves while the circuit is shut fills the hose or is purged,
and no rounding of it reaches the charge.

A doubt in what the hose holds at the end of a fill goes away when the next fill begins with the same content: what was
not in the circuit then goes in now. It stays when the hose is emptied in between: the account has *parted* from it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from fillmark.engine.hold_up import HoldUp, disagree, weight

SETTLE_S = 5.0
SETTLE_LAGS = 4.0
LONGEST_SETTLE_S = 20.0
"""After the valve is shut the scale still settles; the fill is booked when it has, or after so long: a lag of the first
order has left 2 % by then of what flowed in it."""


STILL_PULLS = 0.3
"""A hose under pressure pulls at the container. Where the charge is a difference of two indications with it, it leaves
the charge alone; but it changes with the pressure by such a share. Judged."""


@dataclass(frozen=True, slots=True)
class Pause:
    """A flow that slowed down and let `hidden_kg` less come than before, known to `slack_kg`."""

    hidden_kg: float = 0.0
    slack_kg: float = 0.0

    def undone_by(self, more_kg: float) -> bool:
        """Whether so much more is what a push has hidden, that has let go since."""
        return self.hidden_kg > 0.0 and abs(more_kg - self.hidden_kg) <= self.slack_kg


NO_PAUSE = Pause()


@dataclass(frozen=True, slots=True)
class Shut:
    """The circuit was shut while a container feeds the hose. What had been dispensed then is known in two ways.

    It was reckoned from the flow; but people turn a valve and enter it a little later. And once the scale has settled
    it is what the scale shows, less what the hose has taken since: something between nothing and `room_kg`, triangular
    (JCGM 100:2008 section 4.3.9). Both are weighed by their uncertainties. Where they disagree, a valve entered late
    explains why the scale shows less than was reckoned. If it shows more, the hose has taken that, for vapour condenses
    in it, which is left out of the room; but where it shows as much more as a push that slowed the flow would have
    hidden, that has let go, and the scale is right.

    Attributes:
        reckoned: what had been dispensed, kg. Where the pan was disturbed, so is the reckoning.
        hose: what the hose held.
        room_kg: what it could still take.
        scale_u_kg: of what two indications differ by; above 0.
        pause: of the flow, shortly before.
    """

    reckoned: HoldUp
    hose: HoldUp
    room_kg: float
    scale_u_kg: float
    pause: Pause = NO_PAUSE

    def by_scale(self, settled_kg: float) -> HoldUp:
        """What had been dispensed as the settled scale says it."""
        return HoldUp(settled_kg - self.room_kg / 2.0, math.hypot(self._taken_u_kg, self.scale_u_kg))

    def share(self, settled_kg: float) -> float:
        """Weight of what the settled scale says, 0 to 1."""
        seen = self.by_scale(settled_kg)
        if disagree(self.reckoned, seen):
            more_kg = seen.mass_kg - self.reckoned.mass_kg
            return 1.0 if more_kg < 0.0 or self.pause.undone_by(more_kg) else 0.0
        return weight(seen, self.reckoned)

    def dispensed(self, settled_kg: float, settled_var: float = 0.0) -> HoldUp:
        """What had been dispensed when the valve was shut, kg, and what that adds to the doubt of the settled scale.

        That one's variance, `settled_var`, stands elsewhere, and whole. Of it the mean has only the square of the
        indication's weight (JCGM 100:2008 section 5.1).
        """
        share = self.share(settled_kg)
        mass = self.reckoned.mass_kg + share * (self.by_scale(settled_kg).mass_kg - self.reckoned.mass_kg)
        more = ((1.0 - share) * self.reckoned.u_kg) ** 2 - (1.0 - share * share) * settled_var
        return HoldUp(mass, math.hypot(math.sqrt(max(more, 0.0)), share * self._taken_u_kg))

    @property
    def _taken_u_kg(self) -> float:
        return self.room_kg / math.sqrt(24.0)


@dataclass(frozen=True, slots=True)
class Fill:
    """The circuit open to the hose.

    Attributes:
        dispensed_start_kg: mass that had left the containers when the valve was opened.
        hose_start_kg: content of the hose at that moment.
        shut_at_s: when the valve was shut again; None while it is open.
        shut: how things stood by then, where a container goes on to feed the hose.
    """

    dispensed_start_kg: float
    hose_start_kg: float
    shut_at_s: float | None = None
    shut: Shut | None = None

    def into_circuit(self, dispensed_kg: float, hose: HoldUp, weighed_var: float) -> HoldUp:
        """Mass of this fill that has gone into the circuit, and the doubt in what the hose holds at its end."""
        dispensed = self.ended(dispensed_kg, weighed_var)
        if self.shut is not None:
            hose = self.shut.hose
        grown = hose.mass_kg - self.hose_start_kg
        mass_kg = dispensed.mass_kg - self.dispensed_start_kg - grown
        return HoldUp(mass_kg, math.hypot(hose.u_kg, dispensed.u_kg))

    def ended(self, dispensed_kg: float, weighed_var: float = 0.0) -> HoldUp:
        """What counts as dispensed to this fill, and the doubt in when that was, kg.

        `weighed_var`: of the indication by which `dispensed_kg` is known, kg².
        """
        return HoldUp(dispensed_kg, 0.0) if self.shut is None else self.shut.dispensed(dispensed_kg, weighed_var)


@dataclass(frozen=True, slots=True)
class Account:
    """Booked so far, kg; variances kg².

    Attributes:
        hose_var: what the hose model has left in doubt for good.
        end_var: what it leaves in doubt at the end of the last fill.
        follows: how much of what the pan takes back of a disturbance belongs to the fill booked last, 0 to 1: none
            where that had been reckoned when the valve was shut.
        first: whether no fill has begun since the container on the pan was opened.
        pulls: what the hose's pull has left in the charge: sum of the squares of its shares, one a container's stay.
        hides: what of it is in the weighed content of the hose as well, with the opposite sign.
    """

    settled_kg: float = 0.0
    hose_var: float = 0.0
    end_var: float = 0.0
    follows: float = 0.0
    first: bool = True
    pulls: float = 0.0
    hides: float = 0.0
    fill: Fill | None = None
    lost_kg: float = 0.0
    purged_kg: float = 0.0
    recovered_kg: float = 0.0
    corrected_kg: float = 0.0

    def opened(self, dispensed_kg: float, hose_kg: float, doubt_kg: float) -> Account:
        """The account once the circuit is opened; `doubt_kg`: in the hose, against the end of the last fill."""
        var = self.hose_var + doubt_kg * doubt_kg
        return replace(self, fill=Fill(dispensed_kg, hose_kg), hose_var=var, end_var=0.0)

    def pulled(self, share: float, *, hidden: bool = False) -> Account:
        """The account once the first fill of a container has begun: a share of the hose's pull is in what it charges.

        `hidden`: the rest is in what the hose is seen to hold, until that goes into the circuit, see `released`.
        """
        if not self.first:
            return self
        hides = 1.0 - share * share if hidden else 0.0
        return replace(self, first=False, pulls=self.pulls + share * share, hides=self.hides + hides)

    def released(self) -> Account:
        """The account once what was weighed into the hose leaves it for the circuit, or to be weighed elsewhere."""
        return replace(self, pulls=self.pulls + self.hides, hides=0.0)

    def lost(self) -> Account:
        """The account once what was weighed into the hose is lost, and the pull that was in it."""
        return replace(self, hides=0.0)

    def parted(self) -> Account:
        """The account once what the hose held at the end of the last fill is no longer in it."""
        return replace(self, hose_var=self.hose_var + self.end_var, end_var=0.0)

    def shut(self, time_s: float, then: Shut | None = None) -> Account:
        """The account once the circuit is shut; the fill stays until the scale has settled."""
        if self.fill is None or self.fill.shut_at_s is not None:
            return self
        return replace(self, fill=replace(self.fill, shut_at_s=time_s, shut=then))

    def booked(self, dispensed_kg: float, hose: HoldUp, weighed_var: float = 0.0) -> Account:
        """The account with the present fill, if any, booked."""
        if self.fill is None:
            return self
        fill, shut = self.fill.into_circuit(dispensed_kg, hose, weighed_var), self.fill.shut
        settled_kg = self.settled_kg + fill.mass_kg
        follows = 1.0 if shut is None else shut.share(dispensed_kg)
        return replace(self, settled_kg=settled_kg, end_var=fill.u_kg**2, follows=follows, fill=None)

    def due(self, time_s: float, lag_s: float, *, moving: bool) -> bool:
        """Whether a shut fill can be booked, the scale having that lag, and still `moving` or not."""
        settle_s = LONGEST_SETTLE_S if moving else min(max(SETTLE_S, SETTLE_LAGS * lag_s), LONGEST_SETTLE_S)
        return self.fill is not None and self.fill.shut_at_s is not None and time_s >= self.fill.shut_at_s + settle_s

    def charged(self, dispensed_kg: float, hose: HoldUp, weighed_var: float = 0.0) -> HoldUp:
        """Mass inside the circuit, with the doubt that the hose leaves in it."""
        booked_kg = self.settled_kg + self.corrected_kg
        if self.fill is None:
            return HoldUp(booked_kg, math.sqrt(self.hose_var + self.end_var))
        fill = self.fill.into_circuit(dispensed_kg, hose, weighed_var)
        return HoldUp(booked_kg + fill.mass_kg, math.sqrt(self.hose_var + fill.u_kg**2))
