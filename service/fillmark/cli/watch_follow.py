"""Follows a job in a thread, so that the screen can count ages on while nothing arrives."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import httpx
from rich.live import Live
from rich.text import Text

from fillmark.cli.watch_screen import Heard, screen

if TYPE_CHECKING:
    from rich.console import RenderableType

View = dict[str, Any]
RETRY_S = 1.0
REFRESH_S = 0.5
QUIET_S = 15.0
"""The service speaks every ten seconds at least; a stream that is silent for longer is dead."""
MOST_POINTS = 2000


@dataclass(slots=True)
class Seen:
    """What the thread has heard, and when by the monotonic clock."""

    view: View | None = None
    state_at: float = 0.0
    heard_at: float = 0.0
    broken: bool = False
    over: bool = False
    problem: BaseException | None = None


class Follower:
    """Follows one job, or one open job after another."""

    def __init__(self, client: httpx.Client, bay: str = "", job: str = "") -> None:
        self._client, self._bay, self._job = client, bay, job
        self._course: list[float] = []
        self._about: tuple[object, object] = (None, None)
        self.seen = Seen(heard_at=time.monotonic())
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def heard(self) -> Heard:
        """How old things are now."""
        now, seen = time.monotonic(), self.seen
        silent = now - seen.heard_at
        lost = silent if seen.broken or silent > QUIET_S else None
        return Heard(state_s=now - seen.state_at if seen.view else 0.0, silent_s=lost)

    def render(self, width: int) -> RenderableType:
        """The screen now."""
        view, heard = self.seen.view, self.heard()
        if view is not None:
            return screen(view, heard, self._course, width)
        if heard.silent_s is not None:
            return Text(f"no connection to the service for {heard.silent_s:.0f} s", "bold red")
        return Text("no job is open; waiting …")

    def _run(self) -> None:
        try:
            while not self.seen.over:
                self._once()
                time.sleep(0.0 if self.seen.over else RETRY_S)
        except httpx.UnsupportedProtocol as error:  # the address is none: waiting makes no difference
            self.seen.problem, self.seen.over = error, True
        except Exception:
            if not self.seen.over:  # else the client was closed under a stream that nobody looks at any more
                raise

    def _once(self) -> None:
        try:
            job = self._job or open_job(self._client, self._bay)
            self.seen.heard_at, self.seen.broken = time.monotonic(), False
            if not job:
                return
            for view in states(self._client, job, self._note):
                self._take(view)
            self.seen.over = bool(self._job)
        except httpx.UnsupportedProtocol:
            raise
        except (httpx.HTTPError, ValueError, KeyError, TypeError):
            self.seen.broken = True

    def _note(self) -> None:
        self.seen.heard_at, self.seen.broken = time.monotonic(), False

    def _take(self, view: View) -> None:
        about = (view["job"], view["step"])
        if about != self._about:
            self._about, self._course = about, []
        reading = view["readings"].get("vacuum/pressure")
        if view["step"] in {"evacuation", "vacuum_hold"} and reading is not None:
            self._course = [*self._course, reading["value"]][-MOST_POINTS:]
        self.seen.view, self.seen.state_at = view, time.monotonic()


def states(client: httpx.Client, job: str, note: Any = lambda: None) -> Iterator[View]:  # noqa: ANN401 - called with nothing
    """States of one job as they come, until it is closed or the connection ends. `note` is called at every line."""
    with client.stream("GET", f"/v1/jobs/{job}/stream") as response:
        response.raise_for_status()
        event = ""
        for line in response.iter_lines():
            note()
            name, _, value = line.partition(":")
            if name == "event":
                event = value.strip()
            elif name == "data" and event == "state":
                view: View = json.loads(value)
                yield view
                if view["closed_at"] is not None:
                    return


def open_job(client: httpx.Client, bay: str) -> str:
    """The newest open job of a bay, or of all; empty where there is none."""
    answer = client.get("/v1/jobs", params={"open": "true"} | ({"bay": bay} if bay else {}))
    answer.raise_for_status()
    jobs = answer.json()["jobs"]
    return str(jobs[0]["job"]) if jobs else ""


def show(follower: Follower) -> None:
    """The whole terminal, until the job is over or the person interrupts."""
    with Live(auto_refresh=False, screen=True, transient=True) as live:
        try:
            while not follower.seen.over:
                live.update(follower.render(live.console.width), refresh=True)
                time.sleep(REFRESH_S)
        finally:
            follower.seen.over = True
    if follower.seen.problem is not None:
        raise follower.seen.problem
