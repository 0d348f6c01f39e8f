"""What the routes share."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Annotated, cast

from fastapi import Depends, Request

from fillmark.api.answers import Refusals
from fillmark.api.documents import JobTexts
from fillmark.api.keeper import Keeper
from fillmark.api.problems import ProblemError
from fillmark.api.record_maker import RecordMaker
from fillmark.api.settings import Settings
from fillmark.engine.job import Job
from fillmark.outlets.run import Outlet
from fillmark.wire.clock import Clock


@dataclass(slots=True)
class Service:
    """One running service.

    Attributes:
        outlets: what leaves the service by itself.
        running: the keeper, from start to stop.
        failure: why it could not start.
        run: a name for this run.
    """

    settings: Settings
    clock: Clock
    outlets: Sequence[Outlet] = ()
    refusals: Refusals = field(default_factory=Refusals)
    texts: JobTexts = field(default_factory=JobTexts)
    records: RecordMaker = field(default_factory=RecordMaker)
    running: Keeper | None = None
    failure: BaseException | None = None
    run: str = field(default_factory=lambda: secrets.token_hex(4))

    @property
    def keeper(self) -> Keeper:
        """The keeper of the running service.

        Raises:
            ProblemError: it is not running.
        """
        if self.running is None:
            raise ProblemError("stopping", "the service is not running", headers={"Retry-After": "1"})
        return self.running

    def tag(self, bay: str) -> str:
        """ETag of a bay's glance: weak, because the time of the answer in it goes on.

        It names this run of the service too: after a power cut a position can be given again.
        """
        known = self.keeper.bays.get(bay)
        return f'W/"{self.run}-{0 if known is None else known.position}"'

    def job(self, job_id: str) -> Job:
        """A job by its id.

        Raises:
            ProblemError: there is none.
        """
        job = self.keeper.workshop.jobs.get(job_id)
        if job is None:
            raise ProblemError("unknown-job", f"there is no job {job_id!r}; GET /v1/jobs lists them")
        return job


def _of(request: Request) -> Service:
    return cast("Service", request.app.state.service)


Here = Annotated[Service, Depends(_of)]
"""The service, as an argument of a route."""
