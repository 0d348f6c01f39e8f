"""A replay as something that a campaign of simulated charges can put under trial (`fillmark_sim.campaign.weigher`)."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from fillmark.engine.job import Job
from fillmark.intake.events import IntakeError
from fillmark.intake.replay import Replay
from fillmark.wire.senml import Record

CALL = "close-valve-now"


@dataclass(frozen=True, slots=True)
class Weighed:
    """What is shown of a job at one moment: masses in kg, and the Unix time of the indication they come from."""

    at_s: float | None
    charged_kg: float
    charged_u_kg: float
    dispensed_kg: float


class ReplayWeigher:
    """One charge, weighed by the fold of the service."""

    def __init__(self) -> None:
        self._run = Replay()

    def take(self, records: Sequence[Record], arrival_s: float) -> None:
        """Take one pack at its arrival (Unix s); an empty one lets ticks fall due.

        A reading that the wire refuses is set apart alone, as the agent does by sending halves.

        Raises:
            ActionRefusedError: an action does not fit; nothing has changed.
        """
        try:
            self._run.take(records, max(self._run.now_s, arrival_s))
        except IntakeError:
            half = len(records) // 2
            for part in (records[:half], records[half:]) if half else ():
                self.take(part, arrival_s)

    def weighed(self) -> Weighed | None:
        """What the newest job shows; None before one is open."""
        job = self._job()
        if job is None:
            return None
        picture = job.picture
        return Weighed(picture.mass_at_s, picture.charged.mass_kg, picture.charged.u_kg, picture.dispensed.mass_kg)

    def active(self) -> Collection[str]:
        """Ids of the stop points that are active now."""
        return self._run.active()

    def called_at_s(self) -> Sequence[float]:
        """When the newest job has called for the valve to be closed, Unix s."""
        job = self._job()
        journal = () if job is None else job.journal
        return [moved.at_s for moved in journal if moved.id == CALL and moved.after == "unacknowledged active"]

    def _job(self) -> Job | None:
        jobs = list(self._run.state.jobs.values())
        return jobs[-1] if jobs else None
