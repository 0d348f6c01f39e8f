"""A scripted person: what he does, in which order, and when he closes the valve.

The script is a generator. It yields how long the next thing takes (s), or a question that is asked at every step
until the answer is yes. What he does goes through the bay's hands; what he enters goes out as an action.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from fillmark_sim.hand import HandJudgement
from fillmark_sim.scenario import Container, Stage

if TYPE_CHECKING:
    from fillmark_sim.bay import Bay

Wait = float | Callable[[], bool]
CLOSING_CALLS = frozenset({"close-valve-now", "aim-reached", "window-exceeded"})
STALLED_KG_S = 0.0002
PATIENCE_S = 5.0
LONGEST_DRY_S = 150.0
MOST_STALLS = 8


class Technician:
    """Runs the script of one charge."""

    def __init__(self, bay: Bay, rng: random.Random) -> None:
        self._bay = bay
        self._data = bay.scenario.technician
        self._rng = rng
        self._target_kg = bay.scenario.target_kg
        self._hand = HandJudgement(bay, rng) if self._data.policy == "counts_cans" else None
        self._heard = False
        self._close_at_s: float | None = None
        self._stalled_since_s: float | None = None
        self._next = 0
        self._stage = bay.scenario.stages[0]
        self._hose_open_to_air = False
        self._script = self._work()
        self._wait: Wait = 1.0
        self._wake_s = bay.time_s + 1.0
        self.finished = False

    def hear(self, stop_point: str) -> None:
        """Somebody says that a stop point is active. He reacts to the first call to close."""
        self._heard = True
        if stop_point not in CLOSING_CALLS or self._close_at_s is not None or not self._bay.charging:
            return
        if self._data.policy == "obeys":
            self._close_at_s = self._bay.time_s + self._reaction_s()
        elif self._data.policy == "inattentive":
            self._close_at_s = self._bay.time_s + self._data.late_s

    def step(self) -> None:
        """Go on with the script as far as time allows."""
        while not self.finished:
            if callable(self._wait):
                if not self._wait():
                    return
            elif self._bay.time_s < self._wake_s - 1e-9:
                return
            try:
                self._wait = next(self._script)
            except StopIteration:
                self.finished = True
                return
            if not callable(self._wait):
                self._wake_s = self._bay.time_s + self._wait

    def _reaction_s(self) -> float:
        scatter = self._rng.gauss(0.0, self._data.scatter_s)
        return max(0.2, self._data.reaction_s + scatter)

    def _wants_to_close(self) -> bool:
        bay, data = self._bay, self._data
        if self._close_at_s is not None:
            return bay.time_s >= self._close_at_s
        if self._hand is not None:
            return self._hand.enough()
        mark_kg = self._target_kg if data.close_at_kg is None else data.close_at_kg
        if bay.truth.charged_kg < mark_kg:
            return False
        if data.policy == "by_hand":
            return True
        if data.policy == "inattentive":
            self._close_at_s = bay.time_s + data.late_s
        elif not self._heard:
            self._close_at_s = bay.time_s + PATIENCE_S
        return False

    def _stalled(self) -> bool:
        """No flow for a while: he hears and feels that."""
        if self._bay.inlet_kg_s > STALLED_KG_S:
            self._stalled_since_s = None
        elif self._stalled_since_s is None:
            self._stalled_since_s = self._bay.time_s
        since_s = self._stalled_since_s
        return since_s is not None and self._bay.time_s - since_s >= self._data.stalls_s

    def _work(self) -> Iterator[Wait]:
        bay = self._bay
        bay.open_job()
        yield 2.5
        bay.act("step.begin", step="charging")
        yield self._about(4.0)
        bay.truth.mark("charging-begun", bay.time_s)
        for number, stage in enumerate(bay.scenario.stages):
            if number > 0:
                yield from self._turn_over(stage)
            else:
                yield from self._mount(stage)
                yield from self._open_container(stage)
            self._stage = stage
            yield from self._fill(stage)
            if self._done():
                break
        yield from self._finish(self._stage)

    def _about(self, seconds: float) -> float:
        return seconds * self._rng.uniform(0.85, 1.25)

    def _done(self) -> bool:
        bay = self._bay
        if self._hand is not None:
            return self._close_at_s is not None or self._hand.enough()
        mark = self._data.close_at_kg
        target_kg = self._target_kg if mark is None else mark
        return self._close_at_s is not None or bay.truth.charged_kg >= target_kg - 1e-9

    def _mount(self, stage: Stage) -> Iterator[Wait]:
        bay = self._bay
        bay.place_container(self._next, stage.draw)
        self._next += 1
        yield self._about(2.0)
        bay.say_mounted()
        yield self._about(8.0)

    def _open_container(self, stage: Stage) -> Iterator[Wait]:
        bay = self._bay
        bay.turn_valve("container", opened=True)
        purge_s = stage.purge_s or (self._data.purge_s if self._hose_open_to_air else 0.0)
        if purge_s > 0.0:
            yield 1.0
            bay.purging = True
            yield purge_s
            bay.purging = False
            bay.act("purge")
            self._hose_open_to_air = False
        yield self._about(5.0)

    def _fill(self, stage: Stage) -> Iterator[Wait]:
        bay = self._bay
        if stage.port == "low" and not bay.circuit.running:
            bay.start_engine(running=True)
            yield self._about(4.0)
        bay.turn_valve(stage.port, opened=True)
        for _ in range(MOST_STALLS):
            self._stalled_since_s = None
            yield lambda: self._wants_to_close() or self._stage_over(stage) or self._stalled()
            if self._done() or self._wants_to_close() or self._stage_over(stage):
                return
            if bay.liquid_left() and self._data.warms_with_c is not None and bay.container_in_air():
                yield from self._warm(stage)
            elif not bay.liquid_left() and self._next < len(bay.scenario.containers):
                yield from self._swap(stage)
            elif stage is not bay.scenario.stages[-1]:
                return
            elif not bay.liquid_left():
                break
        bay.act("note", text="Nothing more comes.")
        self._close_at_s = bay.time_s

    def _stage_over(self, stage: Stage) -> bool:
        return stage.until_kg is not None and self._bay.truth.charged_kg >= stage.until_kg

    def _shut(self, stage: Stage) -> Iterator[Wait]:
        self._bay.turn_valve(stage.port, opened=False)
        yield self._about(2.0)
        self._bay.turn_valve("container", opened=False)
        yield self._about(2.0)

    def _swap(self, stage: Stage) -> Iterator[Wait]:
        bay = self._bay
        yield from self._shut(stage)
        silent = self._data.swaps_silently
        if not silent:
            bay.act("container.unmount")
            yield 1.0
        self._hose_open_to_air = bay.lift_container()
        yield self._about(7.0)
        bay.place_container(self._next, stage.draw)
        self._next += 1
        yield self._about(3.0)
        if not silent:
            bay.say_mounted()
        yield self._about(8.0)
        yield from self._open_container(Stage(stage.draw, stage.port))
        bay.turn_valve(stage.port, opened=True)

    def _warm(self, stage: Stage) -> Iterator[Wait]:
        """Stand the can that stalled in warm water. The hose stays on, with its shut-off closed."""
        bay = self._bay
        yield from self._shut(stage)
        bay.act("container.unmount")
        yield 1.0
        bay.lift_container()
        yield self._about(12.0)
        bay.warm_container(self._data.warms_with_c or 40.0)
        bay.place_container(self._next - 1, stage.draw)
        yield self._about(2.0)
        bay.say_mounted()
        yield self._about(9.0)
        yield from self._open_container(Stage(stage.draw, stage.port))
        bay.turn_valve(stage.port, opened=True)

    def _turn_over(self, stage: Stage) -> Iterator[Wait]:
        """Change between liquid and vapour: shut, turn the container, let the circuit pull the hose dry."""
        bay = self._bay
        yield from self._shut(self._stage)
        bay.act("container.unmount")
        yield 1.0
        self._hose_open_to_air = bay.lift_container()
        yield self._about(5.0)
        bay.place_container(self._next - 1, stage.draw)
        yield self._about(2.0)
        bay.say_mounted()
        yield self._about(7.0)
        if stage.port == "low":
            bay.start_engine(running=True)
            yield self._about(4.0)
            bay.turn_valve("low", opened=True)
            begun_s = bay.time_s
            yield lambda: bay.hose_is_dry() or bay.time_s - begun_s > LONGEST_DRY_S
            bay.turn_valve("low", opened=False)
            yield 1.5
        yield from self._open_container(stage)

    def _finish(self, stage: Stage) -> Iterator[Wait]:
        bay, data = self._bay, self._data
        if data.container_first_s is not None:
            bay.turn_valve("container", opened=False)
            yield data.container_first_s
            bay.turn_valve(stage.port, opened=False)
            yield self._about(2.0)
        else:
            yield from self._shut(stage)
        bay.truth.mark("valve-closed", bay.port_shut_s)
        if data.note:
            bay.act("note", text=data.note)
        yield max(data.equalise_s, self._about(10.0))
        if data.recovers_hose:
            bay.recover_hose()
            yield self._about(6.0)
        bay.act("step.end")
        yield 2.0
        bay.act("job.close")
        yield 2.0


def first_mount(container: Container) -> dict[str, object]:
    """What he enters about a container."""
    net = container.net_kg if container.declared_net_kg is None else container.declared_net_kg
    return {"container": container.id, "net": f"{net * 1000.0:.0f} g"}
