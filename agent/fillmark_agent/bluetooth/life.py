"""How a Bluetooth link comes back, without any input or output: what failed decides what is tried next.

* After a drop the known device is connected to at once; only when that fails is it searched for.
* A system that forgets the device as soon as the search stops gets a search that goes on while connecting.
* A system that is busy with another operation is left alone for a moment.
* Services that are not the expected ones come from a stale memory, which is cleared.
* A device that is not heard twice in a row may be held by a link that a dead process left behind: that is ended.

How long to wait between attempts is the supervisor's: see `fillmark_agent.backoff`.
"""

from __future__ import annotations

import enum
from collections.abc import Mapping
from dataclasses import dataclass, replace

from bleak.exc import BleakCharacteristicNotFoundError, BleakDBusError, BleakDeviceNotFoundError, BleakError


class Phase(enum.Enum):
    """Where the link is."""

    LOST = "lost"
    FOUND = "found"
    OPEN = "open"


class Trouble(enum.Enum):
    """What went wrong, as far as it changes what to do next."""

    UNSEEN = "it was searched for and not heard"
    GONE = "the system forgot it before it was connected"
    BUSY = "the system is busy with another operation"
    STALE = "its services are not the expected ones"
    FAILED = "it could not be connected"
    DROPPED = "the link dropped"
    SILENT = "the link stood and nothing came"


@dataclass(frozen=True, slots=True)
class Plan:
    """How to come to the device.

    Attributes:
        search: listen for it first; otherwise connect to what is known.
        hold_search: go on listening until connected.
        forget: first clear what the system remembers of its services.
        release: first end links to it that nobody holds.
        pause_s: real seconds to leave the system alone before.
        brief: give the connection up soon, because nothing says that the device is there, and others wait their turn.
    """

    search: bool = True
    hold_search: bool = False
    forget: bool = False
    release: bool = False
    pause_s: float = 0.0
    brief: bool = False


NEXT: Mapping[Trouble, Plan] = {
    Trouble.UNSEEN: Plan(),
    Trouble.GONE: Plan(hold_search=True),
    Trouble.BUSY: Plan(pause_s=0.5),
    Trouble.STALE: Plan(forget=True),
    Trouble.FAILED: Plan(),
    Trouble.DROPPED: Plan(search=False, brief=True),
    Trouble.SILENT: Plan(),
}
_LEGAL: Mapping[Trouble, frozenset[Phase]] = {
    Trouble.UNSEEN: frozenset({Phase.LOST}),
    Trouble.GONE: frozenset({Phase.FOUND}),
    Trouble.BUSY: frozenset({Phase.LOST, Phase.FOUND}),
    Trouble.STALE: frozenset({Phase.FOUND}),
    Trouble.FAILED: frozenset({Phase.LOST, Phase.FOUND}),
    Trouble.DROPPED: frozenset({Phase.FOUND, Phase.OPEN}),
    Trouble.SILENT: frozenset({Phase.FOUND, Phase.OPEN}),
}
_UNSEEN_BEFORE_RELEASE = 2


class LifeError(Exception):
    """This cannot happen to a link in this phase."""


@dataclass(frozen=True, slots=True)
class Life:
    """The link's phase, and how it is come to next."""

    phase: Phase = Phase.LOST
    plan: Plan = Plan()
    unseen: int = 0

    def found(self) -> Life:
        """The device was heard, or is known well enough to try."""
        if self.phase is not Phase.LOST:
            raise LifeError(f"a link that is {self.phase.value} cannot be found")
        return replace(self, phase=Phase.FOUND, unseen=0)

    def opened(self) -> Life:
        """The link stands and every subscription is renewed."""
        if self.phase is not Phase.FOUND:
            raise LifeError(f"a link that is {self.phase.value} cannot be opened")
        return Life(Phase.OPEN)

    def after(self, trouble: Trouble) -> Life:
        """The link is lost by this trouble.

        Raises:
            LifeError: this trouble cannot come in this phase.
        """
        if self.phase not in _LEGAL[trouble]:
            raise LifeError(f'a link that is {self.phase.value} cannot have "{trouble.value}"')
        unseen = self.unseen + 1 if trouble is Trouble.UNSEEN else 0
        plan = NEXT[trouble]
        if unseen and unseen % _UNSEEN_BEFORE_RELEASE == 0:
            plan = replace(plan, release=True)
        return Life(Phase.LOST, plan, unseen)


_GONE_NAMES = {"org.freedesktop.DBus.Error.UnknownObject", "org.bluez.Error.DoesNotExist"}
_BUSY_NAMES = {"org.bluez.Error.InProgress", "org.bluez.Error.NotReady"}


def trouble_of(error: BaseException) -> Trouble:
    """What an error of bleak means for the next attempt."""
    if isinstance(error, BleakDeviceNotFoundError):
        return Trouble.GONE
    if isinstance(error, (BleakCharacteristicNotFoundError, KeyError)):
        return Trouble.STALE
    if isinstance(error, BleakDBusError):
        if error.dbus_error in _GONE_NAMES:
            return Trouble.GONE
        if error.dbus_error in _BUSY_NAMES:
            return Trouble.BUSY
    # bleak says so, without a type of its own, when BlueZ has removed the device's object.
    return Trouble.GONE if isinstance(error, BleakError) and "not found" in str(error) else Trouble.FAILED
