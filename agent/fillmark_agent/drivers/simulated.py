"""A simulated bay as a device: scale, probes and technician of `fillmark_sim`, on the agent's clock.

The simulated technician can look at the real display: with `look_at` the driver reads the glance of the bay a few
times a second and tells the bay every active stop point, so that the technician closes the valve when the service
says so. A display that does not answer is a display that nobody can read: the technician gets no call.

With an air, what is measured goes over Bluetooth in memory and comes back through the drivers of real devices; what the
technician does still comes from here.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator, Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Protocol

import httpx

from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record
from fillmark_agent.device import DeviceBrokenError, DeviceInfo, DeviceNotFoundError, Pack, Sleep

_LOG = logging.getLogger(__name__)
_LATE_S = 2.0
_LISTENERS_S = 20.0


class SimulatedPack(Protocol):
    """What arrived together in the simulated bay, and when."""

    @property
    def arrival_s(self) -> float:
        """Unix seconds of the arrival."""
        ...

    @property
    def records(self) -> Sequence[Record]:
        """The records in the pack."""
        ...


class SimulatedBay(Protocol):
    """The simulated bay, as much of it as the driver uses."""

    def packs(self) -> Iterator[SimulatedPack]:
        """Packs in order of arrival."""
        ...

    def hear(self, stop_point: str) -> None:
        """Tell the technician that this stop point is on the display."""
        ...


class SimulatedAir(Protocol):
    """Instruments in memory that carry what the bay measures, as much of them as the driver uses."""

    async def connected(self, within_s: float) -> bool:
        """Wait for somebody to listen, at most so many real seconds."""
        ...

    async def send(self, records: Sequence[Record]) -> Pack:
        """Send over the air; returns what no instrument carries."""
        ...


@dataclass(frozen=True, slots=True)
class Simulation:
    """Which scenario, and who watches the display.

    Attributes:
        name: what the log calls the device.
        scenario: name of a scenario of `fillmark_sim`.
        seed: of the scenario's noise.
        bay: name of the bay, first segment of the channels.
        look_at: "http://host:port" of the service whose glance the technician sees; None for a blind technician.
        look_every_s: real seconds between two looks.
    """

    name: str
    scenario: str
    seed: int = 1
    bay: str = "bay-1"
    look_at: str | None = None
    look_every_s: float = 0.2


BuildBay = Callable[[Simulation, Callable[[], float]], SimulatedBay]


def build_bay(simulation: Simulation, now_s: Callable[[], float]) -> SimulatedBay:
    """Make the bay of a scenario that starts now, by the clock `now_s` (Unix seconds).

    The clock is read once everything is loaded, so that the bay does not begin with the loading time to catch up.

    Raises:
        DeviceBrokenError: no such scenario.
    """
    # Imported here: the physics takes a while to load, and an agent with real devices never needs it.
    from fillmark_sim import scenarios  # noqa: PLC0415
    from fillmark_sim.build import build  # noqa: PLC0415

    try:
        scenario = scenarios.get(simulation.scenario)
    except scenarios.UnknownScenarioError as error:
        raise DeviceBrokenError(str(error)) from error
    build(scenario, simulation.seed)  # the first one loads the fluid's properties, which takes seconds
    return build(scenario, simulation.seed, start_s=now_s(), bay=simulation.bay)


class SimulatedDevice:
    """Plays a simulated bay. Ends when the scenario ends."""

    def __init__(
        self,
        simulation: Simulation,
        clock: Clock,
        *,
        build: BuildBay = build_bay,
        sleep: Sleep = asyncio.sleep,
        air: SimulatedAir | None = None,
    ) -> None:
        self._simulation = simulation
        self._clock = clock
        self._build = build
        self._sleep = sleep
        self._air = air
        self._bay: SimulatedBay | None = None
        self._looking: asyncio.Task[None] | None = None
        self.info = DeviceInfo(simulation.name)

    async def find(self) -> None:
        """Nothing to look for."""

    async def connect(self) -> None:
        """Build the bay, once, and send the technician to the display. With an air, first wait for its listeners.

        Raises:
            DeviceBrokenError: no such scenario.
            DeviceNotFoundError: nobody listens.
        """
        if self._air is not None and not await self._air.connected(_LISTENERS_S):
            raise DeviceNotFoundError("nobody has connected to the simulated scale and pressure probes")
        if self._bay is None:
            self._bay = await asyncio.to_thread(self._build, self._simulation, self._clock.now_s)
        if self._simulation.look_at is not None and self._looking is None:
            self._looking = asyncio.create_task(self._look(self._bay, self._simulation.look_at))

    async def disconnect(self) -> None:
        """The technician looks away."""
        looking, self._looking = self._looking, None
        if looking is not None:
            looking.cancel()
            with suppress(asyncio.CancelledError):
                await looking

    async def samples(self) -> AsyncIterator[Pack]:
        """The packs of the bay, each when the clock reaches its arrival.

        Raises:
            DeviceBrokenError: not connected.
        """
        if self._bay is None:
            raise DeviceBrokenError("the simulated bay is not built; connect first")
        told = False
        for pack in self._bay.packs():
            while (left_s := pack.arrival_s - self._clock.now_s()) > 0.0:
                await self._sleep(self._clock.real_s(left_s))
            if self._clock.real_s(-left_s) > _LATE_S and not told:
                told = True
                _LOG.warning("%s: the simulation is slower than the clock; lower --clock-speed", self.info.name)
            records = tuple(pack.records) if self._air is None else await self._air.send(pack.records)
            if records:
                yield records

    async def _look(self, bay: SimulatedBay, address: str) -> None:
        async with httpx.AsyncClient(base_url=address, timeout=1.0, trust_env=False) as client:
            while True:
                for stop_point in await self._glance(client):
                    bay.hear(stop_point)
                await self._sleep(self._simulation.look_every_s)

    async def _glance(self, client: httpx.AsyncClient) -> tuple[str, ...]:
        try:
            answer = await client.get(f"/v1/bays/{self._simulation.bay}/glance")
            glance = answer.json() if answer.is_success else None
        except (httpx.HTTPError, ValueError):
            return ()
        active = glance.get("active") if isinstance(glance, dict) else None
        return tuple(active.split()) if isinstance(active, str) else ()
