"""The agent's edge for one channel: unit, zero and span, gauge and tare, limits, then records.

* The corrected value is `bay/device/quantity`. Where a correction is declared, the raw one, in the same unit, travels
  beside it as `…/raw` with the same time, and the calibration itself once as `…/calibration`.
* What is no number becomes `…/fault`: a text of one word and a sentence when a fault begins or changes, again every
  other second while it lasts, since a device that speaks is not silent, and "none" with the first good value after it.
  The agent's log says the same once.
* Times of one channel increase strictly, by at least a microsecond, because channel and time identify a reading.
"""

from __future__ import annotations

import json
import logging
import math

from fillmark.wire import channels
from fillmark.wire.senml import Record
from fillmark_agent.device import Pack, Sample
from fillmark_agent.edge.channel_table import ChannelTable
from fillmark_agent.edge.outcome import Fault, FaultKind, Measurement, Outcome
from fillmark_agent.edge.suspicion import Suspicion
from fillmark_agent.edge.units import Line, to_inside

_LOG = logging.getLogger(__name__)
_TICK_S = 1e-6
_NO_FAULT = "none"
_AGAIN_S = 2.0


class Edge:
    """Turns outcomes of one sensor into records of one channel. It lives as long as the driver, through all links."""

    def __init__(self, table: ChannelTable, bay: str) -> None:
        self.table = table
        self.name = f"{bay}/{table.channel}"
        self._kind = channels.QUANTITIES[table.quantity]
        self._least, self._most = table.limits
        self._suspicion = Suspicion(table.quantity)
        self._unit: str | None = None
        self._line = Line()
        self._fault: FaultKind | None = None
        self._told_s = float("-inf")
        self._told_calibration = False
        self._last_s = float("-inf")

    @property
    def fault(self) -> FaultKind | None:
        """What is wrong now."""
        return self._fault

    def take(self, outcome: Outcome, time_s: float) -> Pack:
        """Records of what arrived at `time_s` (Unix seconds); none when a fault goes on that was told just now."""
        time_s = self._own_time(time_s)
        judged = outcome if isinstance(outcome, Fault) else self._judged(outcome, time_s)
        if isinstance(judged, Fault):
            return self._faulty(judged, time_s)
        records = [*self._calibration(time_s), *(self._record(name, value, time_s) for name, value in judged)]
        if self._fault is not None:
            self._fault = None
            _LOG.info("%s: good again", self.name)
            records.append(Sample(f"{self.name}/fault", time_s, _NO_FAULT).record())
        return tuple(records)

    def _own_time(self, time_s: float) -> float:
        self._last_s = round(max(time_s, self._last_s + _TICK_S), 6)
        return self._last_s

    def _judged(self, measured: Measurement, time_s: float) -> Fault | tuple[tuple[str, float | bool], ...]:
        if self._kind.unit is None or isinstance(measured.value, bool):
            return self._flag(measured)
        if (problem := self._learn(measured.unit)) is not None:
            return problem
        raw = self._line.at(measured.value)
        if not math.isfinite(raw):
            return Fault(FaultKind.NOT_A_NUMBER, f"the value is {raw}")
        calibration = self.table.calibration
        value = (raw if calibration is None else calibration.corrected(raw)) + self.table.shift
        if not self._least <= value <= self._most:
            return Fault(
                FaultKind.OUT_OF_RANGE,
                f"{value:g} {self._kind.unit} is outside {self._least:g} to {self._most:g} {self._kind.unit}; "
                "check the sensor, its unit and its zero",
            )
        if self._suspicion.doubts(raw, time_s):
            return Fault(
                FaultKind.UNIT_SUSPECTED,
                f"the value jumped to {raw:g} {self._kind.unit}, as if the device had begun to use another unit; "
                "set its unit back, or start the agent anew when the value is right",
            )
        corrected = calibration is not None or self.table.shift != 0.0
        return (("", value), ("/raw", raw)) if corrected else (("", value),)

    def _flag(self, measured: Measurement) -> Fault | tuple[tuple[str, bool], ...]:
        if self._kind.unit is None and isinstance(measured.value, bool):
            return (("", measured.value),)
        return Fault(
            FaultKind.IMPOSSIBLE_UNIT, f"the device sends a flag or a number where {self.table.quantity} is the other"
        )

    def _learn(self, unit: str | None) -> Fault | None:
        """Keep the unit of the first value: a device that changes it is asked about, never followed."""
        if unit == self._unit and unit is not None:
            return None
        if self._unit is not None:
            return Fault(
                FaultKind.UNIT_CHANGED,
                f"the device changed its unit from {self._unit} to {unit}; set it back, or start the agent anew",
            )
        try:
            self._line = to_inside(unit or "", self.table.quantity)
        except ValueError as error:
            return Fault(FaultKind.IMPOSSIBLE_UNIT, str(error))
        self._unit = unit
        return None

    def _record(self, name: str, value: float | bool, time_s: float) -> Record:
        if isinstance(value, bool):
            return Sample(self.name + name, time_s, value).record()
        return Sample(self.name + name, time_s, round(value, 9), self._kind.unit).record()

    def _calibration(self, time_s: float) -> Pack:
        if self.table.calibration is None or self._told_calibration:
            return ()
        self._told_calibration = True
        text = json.dumps(self.table.calibration.model_dump(mode="json"), separators=(",", ":"), ensure_ascii=False)
        return (Sample(f"{self.name}/calibration", time_s, text).record(),)

    def _faulty(self, fault: Fault, time_s: float) -> Pack:
        if fault.kind is not self._fault:
            self._fault = fault.kind
            _LOG.warning("%s: %s: %s", self.name, fault.kind, fault.text)
        elif time_s - self._told_s < _AGAIN_S:
            return ()
        self._told_s = time_s
        return (Sample(f"{self.name}/fault", time_s, f"{fault.kind}: {fault.text}").record(),)
