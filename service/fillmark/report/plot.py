"""Figures as plain geometry: a chart becomes lines, boxes and labels, which page and PDF draw each in its own way.

Lines are told apart by dash and by a name, not by colour alone. Blue for the low side and red for the high side are the
colours that the trade's hoses have (SAE J2196, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fillmark.report import words

Plain = dict[str, Any]
XY = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Series:
    """One curve in the units that are shown."""

    name: str
    points: tuple[XY, ...]
    style: int


@dataclass(frozen=True, slots=True)
class Chart:
    """A figure: what it shows, and in which units."""

    title: str
    x_label: str
    y_label: str
    series: tuple[Series, ...]
    window: XY | None = None
    aim: float | None = None
    log: bool = False

    @property
    def in_words(self) -> str:
        """What a reader who cannot see it is told."""
        said = [f"{self.title}. {self.y_label} over {self.x_label}."]
        for one in self.series:
            first, last = one.points[0][1], one.points[-1][1]
            least, most = min(y for _, y in one.points), max(y for _, y in one.points)
            said.append(f"{one.name}: from {first:.4g} to {last:.4g}, lowest {least:.4g}, highest {most:.4g}.")
        if self.window is not None:
            said.append(f"Label's window {self.window[0]:.4g} to {self.window[1]:.4g}.")
        return " ".join(said)


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points."""

    points: tuple[XY, ...]
    style: str


@dataclass(frozen=True, slots=True)
class Box:
    """A filled box: left, top, width, height."""

    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Label:
    """A text at its baseline; `anchor` is start, middle or end."""

    at: XY
    text: str
    anchor: str
    style: str = "axis"


Shape = Line | Box | Label

COLOURS: Mapping[str, str] = {
    "grid": "#cccccc",
    "axis": "#333333",
    "aim": "#333333",
    "0": "#1f4e9c",
    "1": "#b3261e",
    "2": "#2e6b34",
    "3": "#6b3fa0",
}
WINDOW = "#dfe7d8"
DASHES: Mapping[str, tuple[float, float] | None] = {"1": (5, 2), "2": (2, 2), "3": (7, 3), "aim": (4, 3)}
WIDTHS: Mapping[str, float] = {"grid": 0.4, "axis": 0.6, "aim": 0.8}
CURVE_WIDTH = 1.1

_UNITS: Mapping[str, tuple[float, float, str]] = {
    "pressure": (1e-5, 0.0, "bar absolute"),
    "vacuum": (1.0, 0.0, "Pa absolute"),
    "temperature": (1.0, 0.0, "°C"),
}
_STYLES = {"low/pressure": 0, "high/pressure": 1, "vent/temperature": 1, "suction/temperature": 2,
           "liquid/temperature": 3}  # fmt: skip


def chart_of(figure: Plain) -> Chart:
    """A record's figure in the units that are shown."""
    longest = max(one["t_s"][-1] for one in figure["series"])
    per, x_label = (60.0, "minutes since the beginning") if longest > 180.0 else (1.0, "seconds since the beginning")
    highest = max(max(one["value"]) for one in figure["series"])
    mass = (1e3, 0.0, "g") if highest < 10.0 else (1.0, 0.0, "kg")
    factor, offset, unit = _UNITS.get(figure["quantity"], mass)
    series = tuple(
        Series(
            words.CHANNELS[one["channel"]],
            tuple((t / per, value * factor + offset) for t, value in zip(one["t_s"], one["value"], strict=True)),
            _STYLES.get(one["channel"], 0),
        )
        for one in figure["series"]
    )
    window, aim = figure.get("window_kg"), figure.get("aim_kg")
    return Chart(
        figure["title"],
        x_label,
        unit,
        series,
        None if window is None else (window[0] * factor, window[1] * factor),
        None if aim is None else aim * factor,
        figure["log"] and min(min(one["value"]) for one in figure["series"]) > 0.0,
    )


def ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Round numbers from `low` to `high`: steps of 1, 2 or 5 times a power of ten."""
    span = max(high - low, 1e-12)
    power = 10.0 ** math.floor(math.log10(span / most))
    step = next(power * unit for unit in (1.0, 2.0, 5.0, 10.0) if power * unit * most >= span)
    first = math.ceil(low / step - 1e-9)
    return [round(index * step, 12) for index in range(first, math.floor(high / step + 1e-9) + 1)]


def decades(low: float, high: float) -> list[float]:
    """The powers of ten from `low` to `high`, both included."""
    return [10.0**power for power in range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)]


def draw(chart: Chart, width: float, height: float, em: float) -> list[Shape]:
    """The chart in a box of `width` times `height`, y downwards, with text of the size `em`."""
    return _Drawing(chart, width, height, em).shapes()


class _Drawing:
    """One chart laid out in one box."""

    def __init__(self, chart: Chart, width: float, height: float, em: float) -> None:
        self.chart = chart
        self.em = em
        self.left, self.right = 4.6 * em, width - 0.8 * em
        self.top, self.bottom = 2.0 * em, height - 2.9 * em
        xs = [x for one in chart.series for x, _ in one.points]
        ys = [y for one in chart.series for _, y in one.points] + list(chart.window or ())
        self.x_low, self.x_high = min(0.0, *xs), max(*xs, min(xs) + 1e-9)
        self.y_ticks = self._y_ticks(min(ys), max(ys))
        self.y_low, self.y_high = self.y_ticks[0], self.y_ticks[-1]
        if chart.log:
            self.y_high = max(1.3 * max(ys), 2.0 * self.y_low)
            self.y_ticks = [value for value in self.y_ticks if value <= self.y_high]

    def _y_ticks(self, low: float, high: float) -> list[float]:
        if self.chart.log:
            found = decades(low, high)
            return found if len(found) > 1 else [found[0], found[0] * 10.0]
        if -0.01 * high < low < 0.5 * high:  # what is near nothing, or grows from it, is seen against nothing
            low = 0.0
        pad = max(high - low, abs(high) * 1e-3, 1e-9)
        found = ticks(low, high)
        step = found[1] - found[0] if len(found) > 1 else pad
        found = found or [low]
        first = found[0] if found[0] <= low + 1e-9 else found[0] - step
        last = found[-1] if found[-1] >= high - 1e-9 else found[-1] + step
        count = max(round((last - first) / step), 1)
        return [round(first + index * step, 12) for index in range(count + 1)]

    def x(self, value: float) -> float:
        return self.left + (value - self.x_low) / (self.x_high - self.x_low) * (self.right - self.left)

    def y(self, value: float) -> float:
        low, high = self.y_low, self.y_high
        if self.chart.log:
            low, high, value = math.log10(low), math.log10(high), math.log10(value)
        return self.bottom - (value - low) / (high - low) * (self.bottom - self.top)

    def shapes(self) -> list[Shape]:
        made: list[Shape] = []
        window = self.chart.window
        if window is not None:
            top = self.y(window[1])
            made.append(Box(self.left, top, self.right - self.left, max(self.y(window[0]) - top, 0.4)))
        made += self._grid()
        if self.chart.aim is not None:
            at = self.y(self.chart.aim)
            made.append(Line(((self.left, at), (self.right, at)), "aim"))
        for one in self.chart.series:
            made.append(Line(tuple((self.x(x), self.y(y)) for x, y in one.points), str(one.style)))
        return made + self._legend()

    def _grid(self) -> list[Shape]:
        made: list[Shape] = []
        for value in self.y_ticks:
            at = self.y(value)
            made.append(Line(((self.left, at), (self.right, at)), "grid"))
            made.append(Label((self.left - 0.5 * self.em, at + 0.35 * self.em), f"{value:.10g}", "end"))
        for value in ticks(self.x_low, self.x_high, 8):
            at = self.x(value)
            made.append(Line(((at, self.bottom), (at, self.bottom + 0.3 * self.em)), "axis"))
            made.append(Label((at, self.bottom + 1.3 * self.em), f"{value:.6g}", "middle"))
        made.append(Line(((self.left, self.top), (self.left, self.bottom), (self.right, self.bottom)), "axis"))
        middle = (self.left + self.right) / 2.0
        made.append(Label((middle, self.bottom + 2.5 * self.em), self.chart.x_label, "middle"))
        made.append(Label((0.0, 0.95 * self.em), self.chart.y_label, "start"))
        return made

    def _legend(self) -> list[Shape]:
        made: list[Shape] = []
        at = max(self.left, (1.5 + 0.55 * len(self.chart.y_label)) * self.em)
        entries: Sequence[tuple[str, str]] = [(one.name, str(one.style)) for one in self.chart.series]
        if self.chart.aim is not None:
            entries = [*entries, ("aim, in the label's window", "aim")]
        for name, style in entries:
            made.append(Line(((at, 0.6 * self.em), (at + 2.2 * self.em, 0.6 * self.em)), style))
            made.append(Label((at + 2.6 * self.em, 0.95 * self.em), name, "start", style))
            at += (4.2 + 0.55 * len(name)) * self.em
        return made
