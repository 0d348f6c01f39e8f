"""The whole agent against a service in the same process, and as a real process."""

from __future__ import annotations

import asyncio
import json
import logging
import os
import re
import signal
import subprocess
import sys
from collections.abc import AsyncIterator, Callable
from pathlib import Path

import httpx
import pytest

from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record, decode, encode_lines
from fillmark_agent.__main__ import main
from fillmark_agent.config import AgentConfig
from fillmark_agent.config_file import parse
from fillmark_agent.device import DeviceInfo, Pack
from fillmark_agent.run import run
from fillmark_agent.spool import Spool, SpoolError

NOWHERE = "http://127.0.0.1:9"
Received = list[Record]


@pytest.fixture
def config(tmp_path: Path, make_packs: Callable[[int, int], list[Pack]]) -> AgentConfig:
    """Two recorded bays as fast as possible: 600 readings."""
    for name in ("one", "two"):
        (tmp_path / f"{name}.senml.jsonl").write_text("".join(encode_lines(make_packs(100, 3))))
    tables = "".join(
        f'[[devices]]\ndriver = "recorded"\nname = "{name}"\npath = "{name}.senml.jsonl"\nspeed = "max"\n'
        f'bay = "bay-{name}"\n'
        for name in ("one", "two")
    )
    text = f'[service]\nurl = "{NOWHERE}"\ntoken = "t0ken"\n[log]\nstatus_every_s = 0.01\n{tables}'
    (tmp_path / "bay.toml").write_text(text)
    return parse(text, tmp_path / "bay.toml", {})


def service(received: Received) -> httpx.MockTransport:
    def answer(request: httpx.Request) -> httpx.Response:
        assert str(request.url) == f"{NOWHERE}/v1/readings"
        assert request.headers["authorization"] == "Bearer t0ken"
        records = decode(request.content, now_s=0.0)
        received.extend(records)
        return httpx.Response(200, json={"accepted": len(records), "duplicate": 0, "unassigned": 0})

    return httpx.MockTransport(answer)


async def test_streams_that_end_are_delivered_whole_and_the_agent_ends(config: AgentConfig) -> None:
    received: Received = []
    async with asyncio.timeout(10):
        status = await run(config, clock=Clock(), stop=asyncio.Event(), transport=service(received))
    assert len({(record.name, record.time_s) for record in received}) == len(received) == 600
    for bay in ("bay-one", "bay-two"):
        times = [record.time_s for record in received if record.name.startswith(bay)]
        assert times == sorted(times)
    assert (status.spool.records, status.sent.accepted, status.broken) == (0, 600, False)
    assert status.line() == (
        "one ended 300, two ended 300 | "
        "spool 0, sent 600 new + 0 repeated, unassigned 0, refused 0, lost 0 | service ok"
    )


async def test_a_stop_during_an_outage_leaves_everything_in_the_spool_for_the_next_start(
    config: AgentConfig, caplog: pytest.LogCaptureFixture
) -> None:
    def down(_: httpx.Request) -> httpx.Response:
        raise httpx.ConnectError("down")

    stop = asyncio.Event()
    agent = asyncio.create_task(run(config, clock=Clock(), stop=stop, transport=httpx.MockTransport(down)))
    caplog.set_level(logging.INFO)
    read_and_refused = re.compile("one ended 300, two ended 300 .* service down")
    async with asyncio.timeout(10):
        while not read_and_refused.search(caplog.text):  # noqa: ASYNC110 - the log tells nobody
            await asyncio.sleep(0.01)
    stop.set()
    async with asyncio.timeout(1):
        status = await agent
    assert status.spool.records == 600
    assert status.problem == "down"
    received: Received = []
    status = await run(config, clock=Clock(), stop=asyncio.Event(), devices=[], transport=service(received))
    assert len(received) == 600
    assert status.spool.records == 0


async def test_a_stop_writes_what_the_devices_have_just_handed_over(config: AgentConfig) -> None:
    stop = asyncio.Event()

    class Burst:
        """Hands over 3000 packs without a pause; somebody stops the agent at that moment."""

        info = DeviceInfo("burst")

        async def find(self) -> None: ...

        async def connect(self) -> None: ...

        async def disconnect(self) -> None: ...

        async def samples(self) -> AsyncIterator[Pack]:
            for number in range(3000):
                yield (Record("bay-1/scale/mass", 1.8e9 + number, unit="kg", value=1.0),)
            stop.set()
            await asyncio.Event().wait()

    def down(_: httpx.Request) -> httpx.Response:
        return httpx.Response(503)

    transport = httpx.MockTransport(down)
    status = await run(config, clock=Clock(), stop=stop, devices=[Burst()], transport=transport)
    assert status.spool.records == status.links[0].records == 3000


async def test_a_spool_in_use_stops_the_agent_before_it_starts(config: AgentConfig) -> None:
    spool = Spool(config.spool.path)
    with pytest.raises(SpoolError, match="stop the other agent"):
        await run(config, clock=Clock(), stop=asyncio.Event())
    spool.close()


async def test_a_fault_within_the_agent_is_raised_not_hidden(config: AgentConfig) -> None:
    def buggy(_: httpx.Request) -> httpx.Response:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        await run(config, clock=Clock(), stop=asyncio.Event(), transport=httpx.MockTransport(buggy))
    spool = Spool(config.spool.path)
    assert spool.stats.records > 0
    spool.close()


@pytest.mark.usefixtures("config")
def test_check_config_says_good_or_what_is_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "bay.toml"
    assert main(["check-config", "--config", str(path)]) == 0
    assert capsys.readouterr().err == f"{path}: good, 2 devices\n"
    path.write_text(path.read_text().replace('"max"', '"fast"'))
    assert main(["--config", str(path)]) == 2
    assert capsys.readouterr().err.splitlines() == [
        f'{path}:{line}: devices[{index}].speed: "fast" is not a number; give 1, 10 or "max"'
        for index, line in enumerate((10, 16))
    ]


@pytest.mark.usefixtures("config")
@pytest.mark.parametrize("speed", ["0", "-2", "nan"])
def test_a_clock_that_stands_still_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str], speed: str) -> None:
    assert main(["--config", str(tmp_path / "bay.toml"), "--clock-speed", speed]) == 2
    assert "--clock-speed: the clock's speed is" in capsys.readouterr().err


def test_a_spool_in_use_is_exit_status_one(
    config: AgentConfig, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    spool = Spool(config.spool.path)
    assert main(["--config", str(tmp_path / "bay.toml")]) == 1
    spool.close()
    assert "stop the other agent" in capsys.readouterr().err


@pytest.mark.usefixtures("config")
def test_a_device_that_was_given_up_is_exit_status_one(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    for name in ("one", "two"):
        (tmp_path / f"{name}.senml.jsonl").write_text("[]\n")
    assert main(["--config", str(tmp_path / "bay.toml")]) == 1
    assert "one.senml.jsonl:1: pack: a pack is a JSON array with at least one record" in caplog.text


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_a_real_agent_cleanly_with_all_on_disk(
    config: AgentConfig, tmp_path: Path, number: signal.Signals
) -> None:
    environment = {**os.environ, "FILLMARK_TOKEN": "t0ken"}
    command = [sys.executable, "-m", "fillmark_agent", "--config", str(tmp_path / "bay.toml")]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True, env=environment) as agent:
        assert agent.stderr is not None
        for line in agent.stderr:
            if "one ended 300, two ended 300 | spool 600" in line:
                break
        agent.send_signal(number)
        rest = agent.stderr.read()
        assert agent.wait(20) == 0
    assert "stopped: one ended 300, two ended 300 | spool 600" in rest
    spool = Spool(config.spool.path)
    bodies = [json.loads(row.body) for row in spool.peek(10**9, 10**9)]
    spool.close()
    assert len({(item["n"], item["t"]) for body in bodies for item in body}) == 600
