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

from fillmark.engine.hold_up import HoldUp

SETTLE_S = 5.0
LONGEST_SETTLE_S = 20.0
"""After the valve is shut the scale still settles; the fill is booked when it has, or after so long."""


@dataclass(frozen=True, slots=True)
class Shut:
    """The circuit was shut while a container feeds the hose: what had been dispensed, and what the hose held.

    What is dispensed later fills the hose. The valve may have been shut a little before that was entered; then less
    than was reckoned has been dispensed once the scale has settled, by more than `slack_kg`, and that counts. It counts
    too where the pan was disturbed (`u_kg`: what that left in doubt): the hose takes little beside that.
    """

    dispensed_kg: float
    hose: HoldUp
    slack_kg: float
    u_kg: float = 0.0

    def counts(self, settled_kg: float) -> bool:
        """Whether what had been dispensed once the scale has settled counts, and not what was reckoned."""
        return self.u_kg > self.slack_kg or settled_kg < self.dispensed_kg - self.slack_kg

    def counted_kg(self, settled_kg: float) -> float:
        """What had been dispensed when the valve was truly shut, kg."""
        return settled_kg if self.counts(settled_kg) else self.dispensed_kg


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

    def into_circuit(self, dispensed_kg: float, hose: HoldUp) -> HoldUp:
        """Mass of this fill that has gone into the circuit, and the doubt in what the hose holds at its end."""
        if self.shut is not None:
            hose, dispensed_kg = self.shut.hose, self.shut.counted_kg(dispensed_kg)
        grown = hose.mass_kg - self.hose_start_kg
        return HoldUp(dispensed_kg - self.dispensed_start_kg - grown, hose.u_kg)


@dataclass(frozen=True, slots=True)
class Account:
    """Booked so far, kg; variances kg².

    Attributes:
        hose_var: what the hose model has left in doubt for good.
        end_var: what it leaves in doubt at the end of the last fill.
        follows: whether what the pan takes back of a disturbance still belongs to the fill booked last. It does not
            where that had been reckoned when the valve was shut.
    """

    settled_kg: float = 0.0
    hose_var: float = 0.0
    end_var: float = 0.0
    follows: bool = False
    fill: Fill | None = None
    lost_kg: float = 0.0
    purged_kg: float = 0.0
    recovered_kg: float = 0.0
    corrected_kg: float = 0.0

    def opened(self, dispensed_kg: float, hose_kg: float, doubt_kg: float) -> Account:
        """The account once the circuit is opened; `doubt_kg`: in the hose, against the end of the last fill."""
        var = self.hose_var + doubt_kg * doubt_kg
        return replace(self, fill=Fill(dispensed_kg, hose_kg), hose_var=var, end_var=0.0)

    def parted(self) -> Account:
        """The account once what the hose held at the end of the last fill is no longer in it."""
        return replace(self, hose_var=self.hose_var + self.end_var, end_var=0.0)

    def shut(self, time_s: float, then: Shut | None = None) -> Account:
        """The account once the circuit is shut; the fill stays until the scale has settled."""
        if self.fill is None or self.fill.shut_at_s is not None:
            return self
        return replace(self, fill=replace(self.fill, shut_at_s=time_s, shut=then))

    def booked(self, dispensed_kg: float, hose: HoldUp) -> Account:
        """The account with the present fill, if any, booked."""
        if self.fill is None:
            return self
        fill, shut = self.fill.into_circuit(dispensed_kg, hose), self.fill.shut
        settled_kg = self.settled_kg + fill.mass_kg
        follows = shut is None or shut.counts(dispensed_kg)
        return replace(self, settled_kg=settled_kg, end_var=fill.u_kg**2, follows=follows, fill=None)

    def due(self, time_s: float, *, moving: bool) -> bool:
        """Whether a shut fill can be booked, the scale still `moving` or not."""
        settle_s = LONGEST_SETTLE_S if moving else SETTLE_S
        return self.fill is not None and self.fill.shut_at_s is not None and time_s >= self.fill.shut_at_s + settle_s

    def charged(self, dispensed_kg: float, hose: HoldUp) -> HoldUp:
        """Mass inside the circuit, with the doubt that the hose leaves in it."""
        booked_kg = self.settled_kg + self.corrected_kg
        if self.fill is None:
            return HoldUp(booked_kg, math.sqrt(self.hose_var + self.end_var))
        fill = self.fill.into_circuit(dispensed_kg, hose)
        return HoldUp(booked_kg + fill.mass_kg, math.sqrt(self.hose_var + fill.u_kg**2))
