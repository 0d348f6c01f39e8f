"""`fillmark demo`: service, agent and a simulated bay together, and the charge live in the terminal."""

from __future__ import annotations

import json
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated

import typer

from fillmark.cli.fail import NOT_REACHED, fail

if TYPE_CHECKING:
    import httpx

STARTED_WITHIN_S = 30.0
STOPPED_WITHIN_S = 6.0
FOLLOWED_BY_S = 3.0
GRACE_S, LARGEST_LAG_S = 0.15, 3.0
ONE_CHARGE, ONE_CHARGE_SPEED = "harvester-clean", 5.0
WHOLE_JOB, WHOLE_JOB_SPEED = "refrigerated-van-whole-job", 15.0
CONFIG = """\
[service]
url = {url}

[spool]
path = "spool.sqlite"

[log]
level = "warning"

[[devices]]
driver = "simulated"
name = "bay"
scenario = {scenario}
seed = {seed}
bay = "bay-1"
look_at = {url}
"""


def demo(
    scenario: Annotated[str, typer.Option(help="Scenario; `fillmark simulate` lists them.")] = ONE_CHARGE,
    whole_job: Annotated[
        bool, typer.Option("--whole-job", help="A whole visit, from recovery to the performance test.")
    ] = False,
    speed: Annotated[
        float | None, typer.Option(min=0.1, max=100.0, help="How many times faster than life: 5, a whole job 15.")
    ] = None,
    seed: Annotated[int, typer.Option(help="Decides all scatter.")] = 7,
    bluetooth: Annotated[
        bool, typer.Option("--bluetooth", help="Carry the readings over Bluetooth in memory, through the real drivers.")
    ] = False,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port of the service; 0 takes a free one.")] = 8000,
    until_closed: Annotated[bool, typer.Option(help="Stop by itself when the job is closed.")] = False,
    quiet: Annotated[bool, typer.Option(help="Print the address and the result only.")] = False,
) -> None:
    """Show a charge, or a whole job, live on this machine without any device. Ctrl-C stops everything."""
    from fillmark_sim import scenarios

    if whole_job and scenario == ONE_CHARGE:
        scenario = WHOLE_JOB
    speed = speed or (WHOLE_JOB_SPEED if whole_job else ONE_CHARGE_SPEED)
    try:
        scenarios.get(scenario)
    except scenarios.UnknownScenarioError as error:
        fail(str(error))
    port = _free_port(port)
    url = f"http://127.0.0.1:{port}"
    with tempfile.TemporaryDirectory(prefix="fillmark-demo-") as folder, _interruptible():
        config = Path(folder) / "bay.toml"
        text = CONFIG.format(url=json.dumps(url), scenario=json.dumps(scenario), seed=seed)
        config.write_text(text + (_bluetooth() if bluetooth else ""), encoding="utf-8")
        epoch_s = time.time()
        log = str(Path(folder) / "log.sqlite")
        with (
            _running(
                "serve", "--port", str(port), "--database", log, *_clock(epoch_s + _grace_s(speed), speed)
            ) as service,
            _connected(url, service) as client,
            _running("agent", "--config", str(config), *_clock(epoch_s, speed)) as agent,
        ):
            typer.echo(f"{scenario} at {speed:g} times the speed of life. The page: {url}/?bay=bay-1")
            _show(client, agent, quiet=quiet, until_closed=until_closed)


def _clock(epoch_s: float, speed: float) -> tuple[str, ...]:
    return "--clock-epoch", repr(epoch_s), "--clock-speed", repr(speed)


def _grace_s(speed: float) -> float:
    """How much later the service's fast time begins, real seconds.

    A reading that takes a tenth of a second to arrive would be seconds old in a time faster than life, and be called
    stale. So the service's time lags a little: no more, because it carries the mass on by the age of the last reading,
    and with an age too small the close call comes late.
    """
    return min(GRACE_S, LARGEST_LAG_S / (speed - 1.0)) if speed > 1.0 else 0.0


def _bluetooth() -> str:
    from fillmark.cli.demo_radio import configuration
    from fillmark.wire.extras import MissingExtraError

    try:
        return configuration()
    except MissingExtraError as error:
        fail(str(error))


def _show(client: httpx.Client, agent: subprocess.Popen[bytes], *, quiet: bool, until_closed: bool) -> None:
    """Show the job until it is closed (and go on, if asked to, until interrupted)."""
    import httpx
    from rich.console import Console

    from fillmark.cli.watch import panel
    from fillmark.cli.watch_follow import Follower, show

    try:
        job = _wait_for_job(client, agent)
        if not quiet:
            show(Follower(client, job=job))
        view = _wait_until_closed(client, job, agent) if until_closed or quiet else client.get(f"/v1/jobs/{job}").json()
        Console().print(panel(view))
        if not until_closed:
            typer.echo("The job is closed; the page stays until Ctrl-C.")
            while True:
                time.sleep(1.0)
    except KeyboardInterrupt:
        typer.echo("stopped")
    except httpx.HTTPError as error:
        fail(f"the demo's service went away ({error}); run the demo again", NOT_REACHED)


def _wait_for_job(client: httpx.Client, agent: subprocess.Popen[bytes]) -> str:
    deadline = time.monotonic() + STARTED_WITHIN_S
    while True:
        jobs = client.get("/v1/jobs").json()["jobs"]
        if jobs:
            return str(jobs[0]["job"])
        if agent.poll() is not None:
            fail("the demo's agent stopped before it opened a job; its messages are above", NOT_REACHED)
        if time.monotonic() > deadline:
            fail(f"no job was opened within {STARTED_WITHIN_S:.0f} s; run the demo again", NOT_REACHED)
        time.sleep(0.1)


def _wait_until_closed(client: httpx.Client, job: str, agent: subprocess.Popen[bytes]) -> dict[str, object]:
    ended: float | None = None
    while True:
        view: dict[str, object] = client.get(f"/v1/jobs/{job}").json()
        if view["closed_at"] is not None:
            return view
        if agent.poll() is not None:
            ended = ended or time.monotonic()
            if time.monotonic() - ended > FOLLOWED_BY_S:
                fail("the demo's agent stopped before the job was closed; its messages are above", NOT_REACHED)
        time.sleep(0.1)


@contextmanager
def _running(*arguments: str) -> Iterator[subprocess.Popen[bytes]]:
    """A part of the demo as a process of our group; stopped at the end, whatever happens."""
    command = [sys.executable, "-m", "fillmark", *arguments]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)  # noqa: S603 - our own command, no shell
    try:
        yield process
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
        try:
            process.wait(STOPPED_WITHIN_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


@contextmanager
def _connected(url: str, service: subprocess.Popen[bytes]) -> Iterator[httpx.Client]:
    """A client of the service once it answers."""
    import httpx

    with httpx.Client(base_url=url, timeout=httpx.Timeout(5.0, read=20.0), trust_env=False) as client:
        deadline = time.monotonic() + STARTED_WITHIN_S
        while True:
            try:
                client.get("/health").raise_for_status()
            except httpx.HTTPError:
                if service.poll() is not None or time.monotonic() > deadline:
                    fail(
                        f"the service did not start at {url}; its message is above, or choose another --port",
                        NOT_REACHED,
                    )
                time.sleep(0.05)
            else:
                yield client
                return


@contextmanager
def _interruptible() -> Iterator[None]:
    """Let a termination signal end the demo as Ctrl-C does."""

    def interrupt(number: int, frame: FrameType | None) -> None:
        del number, frame
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, interrupt)
    try:
        yield
    except KeyboardInterrupt:
        typer.echo("stopped")
    finally:
        signal.signal(signal.SIGTERM, before)


def _free_port(wanted: int) -> int:
    """The wanted port, or a free one when it is taken or 0."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", wanted))
        except OSError:
            probe.bind(("127.0.0.1", 0))
        free: int = probe.getsockname()[1]
        return free
