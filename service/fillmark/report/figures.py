"""Which curves a step shows, as plain data in SI: series thinned so that a peak stays a peak.

Pressures are absolute; a gauge reading is brought to absolute with the barometric pressure that the job knows at its
end, which may differ a little from that of the moment.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fillmark.engine.job import Job
from fillmark.engine.steps import Step, StepRecord
from fillmark.report.retrace import Curves

Plain = dict[str, Any]
Points = Sequence[tuple[float, float]]

MOST_POINTS = 240
"""Points of one series in a record: more than a printed column has dots to tell apart."""


@dataclass(frozen=True, slots=True)
class Shown:
    """One figure of a step: its title, the channels in it, and whether it is drawn by the logarithm."""

    title: str
    channels: tuple[str, ...]
    quantity: str
    log: bool = False


_PORTS = Shown("Pressures at the service ports", ("low/pressure", "high/pressure"), "pressure")
_VACUUM = Shown("Pressure in the circuit", ("vacuum/pressure",), "vacuum", log=True)
_AIR = Shown("Temperatures", ("ambient/temperature", "vent/temperature", "suction/temperature", "liquid/temperature"),
             "temperature")  # fmt: skip

FIGURES: Mapping[Step, tuple[Shown, ...]] = {
    Step.RECOVERY: (Shown("Recovered mass", ("recovered",), "mass"), _PORTS),
    Step.PRESSURE_TEST: (Shown("Pressure in the circuit", ("low/pressure", "high/pressure"), "pressure"),),
    Step.EVACUATION: (_VACUUM,),
    Step.VACUUM_HOLD: (Shown("Pressure in the circuit", ("vacuum/pressure",), "vacuum"),),
    Step.CHARGING: (Shown("Mass in the circuit, as it was shown", ("charged",), "mass"), _PORTS),
    Step.PERFORMANCE_TEST: (_PORTS, _AIR),
}


def figures_of(job: Job, record: StepRecord, curves: Curves) -> list[Plain]:
    """The figures of one step; those without a reading are left out."""
    until = record.ended_s if record.ended_s is not None else max(job.now_s, record.began_s)
    made = []
    for shown in FIGURES[record.step]:
        series = [_series(job, curves, channel, record.began_s, until) for channel in shown.channels]
        series = [one for one in series if len(one["t_s"]) > 1]
        if not series:
            continue
        figure: Plain = {"title": shown.title, "quantity": shown.quantity, "log": shown.log, "series": series}
        if "charged" in shown.channels:
            circuit = job.course.setup.circuit
            figure["window_kg"] = [round(circuit.charge_min_kg, 5), round(circuit.charge_max_kg, 5)]
            figure["aim_kg"] = round(job.course.setup.aim_kg, 5)
        made.append(figure)
    return made


def _series(job: Job, curves: Curves, channel: str, since_s: float, until_s: float) -> Plain:
    known = {"charged": curves.charged, "recovered": curves.recovered}
    points = sorted(known.get(channel) or curves.readings.get(channel, []))
    if job.course.reads_gauge(channel):
        points = [(at, value + job.course.barometer().pressure_pa) for at, value in points]
    kept = thinned([(at - since_s, value) for at, value in points if since_s <= at <= until_s])
    return {
        "channel": channel,
        "t_s": [round(at, 1) for at, _ in kept],
        "value": [float(f"{value:.6g}") for _, value in kept],
    }


def thinned(points: Points, most: int = MOST_POINTS) -> list[tuple[float, float]]:
    """At most `most` points: of each stretch its lowest and its highest, in their order."""
    if len(points) <= most:
        return list(points)
    stretches = most // 2
    kept: list[tuple[float, float]] = []
    for index in range(stretches):
        stretch = points[index * len(points) // stretches : (index + 1) * len(points) // stretches]
        low, high = min(stretch, key=_value), max(stretch, key=_value)
        kept += [low] if low == high else sorted((low, high))
    return kept


def _value(point: tuple[float, float]) -> float:
    return point[1]
