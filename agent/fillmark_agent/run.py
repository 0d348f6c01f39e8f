"""The whole agent as one coroutine: devices, intake, spool, uplink.

At a stop the devices are let go first, then everything that arrived is written to the spool, then the uplink gets a
moment to empty it. What is left stays on disk for the next start.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

import httpx

from fillmark.wire.clock import Clock
from fillmark_agent.async_spool import AsyncSpool
from fillmark_agent.backoff import Backoff
from fillmark_agent.config import AgentConfig
from fillmark_agent.device import Device
from fillmark_agent.drivers.build import build_devices
from fillmark_agent.intake import Intake
from fillmark_agent.spool import Limits, Spool, SpoolStats
from fillmark_agent.supervisor import LinkState, LinkStatus, Patience, Supervisor
from fillmark_agent.uplink import Pace, Uplink, UplinkCounts

_LOG = logging.getLogger(__name__)
_LAST_MOMENT_S = 2.0


@dataclass(frozen=True, slots=True)
class Status:
    """A snapshot of the agent."""

    links: tuple[LinkStatus, ...]
    spool: SpoolStats
    sent: UplinkCounts
    problem: str | None

    def line(self) -> str:
        """One line for the log."""
        links = ", ".join(f"{link.name} {link.state.value} {link.records}" for link in self.links)
        counts = (
            f"spool {self.spool.records}, sent {self.sent.accepted} new + {self.sent.duplicate} repeated, "
            f"unassigned {self.sent.unassigned}, refused {self.spool.refused}, lost {self.spool.lost}"
        )
        return f"{links} | {counts} | service {'ok' if self.problem is None else self.problem}"

    @property
    def broken(self) -> bool:
        """Whether a device was given up."""
        return any(link.state is LinkState.BROKEN for link in self.links)


async def run(
    config: AgentConfig,
    *,
    clock: Clock,
    stop: asyncio.Event,
    devices: Sequence[Device] | None = None,
    transport: httpx.AsyncBaseTransport | None = None,
) -> Status:
    """Run the agent until `stop` is set, or until every stream has ended and the service has it all.

    Args:
        config: from `config_file.load`.
        clock: the stamping clock.
        stop: set it to end the agent cleanly.
        devices: other devices than those of the configuration.
        transport: another way to the service than the network.

    Returns:
        The last snapshot.

    Raises:
        SpoolError: the spool cannot be opened.
    """
    spool = AsyncSpool(Spool(config.spool.path, _limits(config)))
    try:
        async with _client(config, transport) as client:
            agent = _Agent(config, clock, spool, client, devices)
            try:
                await agent.work(stop)
            finally:
                await agent.wind_up(at_once=stop.is_set())
    finally:
        await spool.close()
    status = agent.status()
    _LOG.info("stopped: %s", status.line())
    return status


def _limits(config: AgentConfig) -> Limits:
    table = config.spool
    return Limits(table.max_records, table.max_bytes, table.memory_records, table.refused_records)


def _client(config: AgentConfig, transport: httpx.AsyncBaseTransport | None) -> httpx.AsyncClient:
    token = config.service.token.get_secret_value()
    return httpx.AsyncClient(
        base_url=config.service.url,
        headers={"authorization": f"Bearer {token}"} if token else {},
        timeout=config.service.timeout_s,
        transport=transport,
        # The service is on this machine or in this workshop: a proxy meant for the web must not come between.
        trust_env=False,
    )


class _Agent:
    """The tasks of a running agent."""

    def __init__(
        self,
        config: AgentConfig,
        clock: Clock,
        spool: AsyncSpool,
        client: httpx.AsyncClient,
        devices: Sequence[Device] | None,
    ) -> None:
        self._spool = spool
        self._every_s = config.log.status_every_s
        self._intake = Intake(spool)
        table = config.uplink
        pace = Pace(table.batch_records, table.batch_bytes, table.linger_s, table.future_retry_s)
        self._uplink = Uplink(spool, client, pace, Backoff(cap_s=table.backoff_cap_s))
        if devices is None:
            devices = build_devices(config, clock)
        link = config.link
        patience = Patience(link.silent_intervals, link.silent_at_least_s, link.connect_s)
        self._supervisors = [Supervisor(device, self._intake, patience) for device in devices]
        self._links = [asyncio.create_task(each.run()) for each in self._supervisors]
        self._servants = [
            asyncio.create_task(self._intake.run()),
            asyncio.create_task(self._uplink.run()),
            asyncio.create_task(self._report()),
        ]

    def status(self) -> Status:
        links = tuple(each.status for each in self._supervisors)
        return Status(links, self._spool.stats, self._uplink.counts, self._uplink.problem)

    async def work(self, stop: asyncio.Event) -> None:
        """Until the stop, or until all streams have ended and are delivered."""
        stopping = asyncio.create_task(stop.wait())
        ended = asyncio.create_task(self._all_delivered())
        try:
            done, _ = await asyncio.wait({stopping, ended, *self._servants}, return_when=asyncio.FIRST_COMPLETED)
            for task in done:
                task.result()
        finally:
            await _cancel([stopping, ended])

    async def _all_delivered(self) -> None:
        await asyncio.gather(*self._links)
        await self._intake.flushed()
        await self._spool.empty.wait()

    async def wind_up(self, *, at_once: bool) -> None:
        """Let the devices go, write what they sent, give the uplink a last moment if it gets through at all."""
        await _cancel(self._links)
        if not self._servants[0].done():
            await self._intake.flushed()
        if at_once and self._uplink.problem is None and not self._servants[1].done():
            with suppress(TimeoutError):
                async with asyncio.timeout(_LAST_MOMENT_S):
                    await self._spool.empty.wait()
        await _cancel(self._servants)

    async def _report(self) -> None:
        while self._every_s > 0.0:
            await asyncio.sleep(self._every_s)
            _LOG.info("%s", self.status().line())
        await asyncio.Event().wait()


async def _cancel(tasks: Sequence[asyncio.Task[None] | asyncio.Task[bool]]) -> None:
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
