"""The simulated bay on the agent's clock, and its technician in front of the real display."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import httpx
import pytest
import respx

from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record
from fillmark_agent.device import DeviceBrokenError, DeviceNotFoundError, Pack, Sleep
from fillmark_agent.drivers.simulated import SimulatedDevice, Simulation, build_bay

NOW_S = 1_800_000_000.0
SERVICE = "http://display.test:8000"
MakeClock = Callable[[float], Clock]


@dataclass(frozen=True)
class Arrived:
    arrival_s: float
    records: tuple[Record, ...]


@dataclass
class FakeBay:
    start_s: float
    arrivals_s: tuple[float, ...] = (0.5, 0.5, 2.0)
    heard: list[str] = field(default_factory=list)

    def packs(self) -> Iterator[Arrived]:
        for number, after_s in enumerate(self.arrivals_s):
            time_s = self.start_s + after_s - 0.1 + number / 1000
            yield Arrived(self.start_s + after_s, (Record("bay-1/scale/mass", time_s, unit="kg", value=9.0),))
            yield Arrived(self.start_s + after_s, ())

    def hear(self, stop_point: str) -> None:
        self.heard.append(stop_point)


@dataclass
class Builder:
    """Stands in for the simulator and keeps what it built."""

    built: list[FakeBay] = field(default_factory=list)

    def __call__(self, _: Simulation, now_s: Callable[[], float]) -> FakeBay:
        self.built.append(FakeBay(now_s()))
        return self.built[-1]


async def test_packs_come_when_the_clock_reaches_their_arrival(
    make_clock: MakeClock, sleep: Sleep, slept: list[float]
) -> None:
    clock = make_clock(4.0)
    device = SimulatedDevice(Simulation("sim", "any"), clock, build=Builder(), sleep=sleep)
    await device.find()
    await device.connect()
    came = [(clock.now_s() - NOW_S, len(pack)) async for pack in device.samples()]
    assert came == [(0.5, 1), (0.5, 1), (2.0, 1)]
    assert sum(slept) == pytest.approx(2.0 / 4.0)
    await device.disconnect()


async def test_connecting_again_goes_on_with_the_same_bay(make_clock: MakeClock, sleep: Sleep) -> None:
    builder = Builder()
    device = SimulatedDevice(Simulation("sim", "any"), make_clock(1.0), build=builder, sleep=sleep)
    await device.connect()
    await device.disconnect()
    await device.connect()
    assert len(builder.built) == 1


async def test_streaming_before_connecting_is_refused(make_clock: MakeClock) -> None:
    device = SimulatedDevice(Simulation("sim", "any"), make_clock(1.0), build=Builder())
    with pytest.raises(DeviceBrokenError, match="connect first"):
        await anext(device.samples())


async def look(answers: list[httpx.Response | Exception], make_clock: MakeClock) -> list[str]:
    """What the technician heard after the display gave these answers, one look after the other."""
    builder = Builder()
    looks = asyncio.Event()

    async def until_seen(_: float) -> None:
        if route.call_count >= len(answers):
            looks.set()
            await asyncio.Event().wait()
        await asyncio.sleep(0)

    with respx.mock(assert_all_called=False) as router:
        route = router.get(f"{SERVICE}/v1/bays/bay-2/glance").mock(side_effect=answers)
        simulation = Simulation("sim", "any", bay="bay-2", look_at=SERVICE)
        device = SimulatedDevice(simulation, make_clock(1.0), build=builder, sleep=until_seen)
        await device.connect()
        async with asyncio.timeout(2):
            await looks.wait()
        await device.disconnect()
    return builder.built[0].heard


async def test_every_active_stop_point_on_the_display_is_heard(make_clock: MakeClock) -> None:
    heard = await look(
        [
            httpx.Response(200, json={"active": ""}),
            httpx.Response(200, json={"active": "close-valve-now window-reached"}),
        ],
        make_clock,
    )
    assert heard == ["close-valve-now", "window-reached"]


async def test_a_display_that_fails_gives_no_call_and_no_error(make_clock: MakeClock) -> None:
    heard = await look(
        [
            httpx.ConnectError("refused"),
            httpx.ReadTimeout("slow"),
            httpx.Response(503, json={"active": "aim-reached"}),
            httpx.Response(200, text="<html>"),
            httpx.Response(200, json=["aim-reached"]),
            httpx.Response(200, json={"active": None}),
            httpx.Response(200, json={"active": "close-valve-now"}),
        ],
        make_clock,
    )
    assert heard == ["close-valve-now"]


async def test_the_real_simulator_keeps_to_the_contract(make_clock: MakeClock, sleep: Sleep) -> None:
    clock = make_clock(1.0)
    device = SimulatedDevice(Simulation("sim", "harvester-clean", bay="bay-9"), clock, build=build_bay, sleep=sleep)
    await device.connect()
    packs: list[Pack] = []
    arrivals: list[float] = []
    async for pack in device.samples():
        packs.append(pack)
        arrivals.append(clock.now_s())
        if len(packs) == 60:
            break
    assert arrivals == sorted(arrivals)
    assert arrivals[-1] > NOW_S + 1.0
    assert all(record.name.startswith("bay-9/") for pack in packs for record in pack)
    assert any(record.name == "bay-9/action" and record.text for pack in packs for record in pack)
    assert all(record.time_s <= at for pack, at in zip(packs, arrivals, strict=True) for record in pack)


async def test_an_unknown_scenario_breaks_the_device(make_clock: MakeClock) -> None:
    device = SimulatedDevice(Simulation("sim", "no-such"), make_clock(1.0))
    with pytest.raises(DeviceBrokenError, match="no scenario 'no-such'"):
        await device.connect()


@dataclass
class FakeAir:
    """Instruments that carry masses and nothing else."""

    listeners: bool = True
    carried: list[Record] = field(default_factory=list)

    async def connected(self, within_s: float) -> bool:
        assert within_s > 0.0
        return self.listeners

    async def send(self, records: Sequence[Record]) -> Pack:
        self.carried += [record for record in records if record.name.endswith("/mass")]
        return tuple(record for record in records if not record.name.endswith("/mass"))


async def test_over_the_air_only_what_no_instrument_carries_comes_from_the_bay(
    make_clock: MakeClock, sleep: Sleep
) -> None:
    air = FakeAir()
    device = SimulatedDevice(
        Simulation("sim", "harvester-clean", bay="bay-1"), make_clock(1.0), build=build_bay, sleep=sleep, air=air
    )
    await device.connect()
    came: list[Record] = []
    async for pack in device.samples():
        came += pack
        if len(air.carried) > 20:
            break
    assert air.carried
    assert came
    assert not [record for record in came if record.name.endswith("/mass")]
    assert any(record.name == "bay-1/action" for record in came)


async def test_a_bay_that_nobody_listens_to_waits(make_clock: MakeClock) -> None:
    device = SimulatedDevice(Simulation("sim", "any"), make_clock(1.0), build=Builder(), air=FakeAir(listeners=False))
    with pytest.raises(DeviceNotFoundError, match="nobody has connected"):
        await device.connect()
