"""Simple ways to tell what has left a container, to be tried beside Fillmark in a campaign (`--against`).

All three get the indications of the scale and the valve actions. The container's mass is learnt until its valve is
first opened; what an earlier container gave is kept when it is taken off. They differ in what they hold for the mass:

* Differencing: the last indication.
* MovingMedian: the median of the indications of the last MEDIAN_S, three at least.
* ConstantVelocity: a Kalman filter in mass and flow with white-noise acceleration (Bar-Shalom, Li and Kirubarajan 2001,
  section 6.2, from memory), without any gate; while the container is shut, flow is nil and the mass stands still.
"""

from __future__ import annotations

from collections import deque
from statistics import median

MEDIAN_S = 3.0
LEAST_READINGS = 3
ACCELERATION_KG_S2 = 1e-3
"""Density of the flow's walk, kg/s² per √Hz. From 0.1 to 2 g/s² the clean class comes out the same to 0.1 g."""

STILL_KG_SQRT_S = 0.3e-3
OPENING_KG_S = 6e-3
SETTLES_S = 1.0
"""When the valve is shut, the indication still lags by so much flow."""


class _Account:
    """Start, now, and what earlier containers gave."""

    def __init__(self, step_kg: float) -> None:
        self.step_kg = step_kg
        self.now_kg: float | None = None
        self.start_kg: float | None = None
        self.before_kg = 0.0
        self.open: dict[str, bool] = {}

    @property
    def dispensed_kg(self) -> float:
        if self.start_kg is None or self.now_kg is None:
            return self.before_kg
        return self.before_kg + self.start_kg - self.now_kg

    def mounted(self) -> None:
        self.now_kg = self.start_kg = None
        self.forget()

    def unmounted(self) -> None:
        self.before_kg = self.dispensed_kg
        self.now_kg = self.start_kg = None

    def valve(self, name: str, *, is_open: bool) -> None:
        self.open[name] = is_open
        if name == "container" and is_open and self.start_kg is None:
            self.start_kg = self.now_kg

    def forget(self) -> None:
        """Forget the readings of another container."""


class Differencing(_Account):
    """Start less now."""

    def scale(self, time_s: float, indication_kg: float) -> None:
        del time_s
        self.now_kg = indication_kg


class MovingMedian(_Account):
    """Start less the median of the last readings."""

    def __init__(self, step_kg: float) -> None:
        super().__init__(step_kg)
        self.recent: deque[tuple[float, float]] = deque()

    def scale(self, time_s: float, indication_kg: float) -> None:
        self.recent.append((time_s, indication_kg))
        while len(self.recent) > LEAST_READINGS and self.recent[0][0] < time_s - MEDIAN_S:
            self.recent.popleft()
        self.now_kg = median(value for _, value in self.recent)

    def forget(self) -> None:
        self.recent.clear()


class ConstantVelocity(_Account):
    """Start less the mass of a Kalman filter in mass and flow."""

    def __init__(self, step_kg: float) -> None:
        super().__init__(step_kg)
        self.flow_kg_s = 0.0
        self.p_mm = self.p_mf = self.p_ff = 0.0
        self.time_s = 0.0

    def scale(self, time_s: float, indication_kg: float) -> None:
        noise = self.step_kg**2 / 3.0
        if self.now_kg is None:
            self.now_kg, self.time_s, self.p_mm = indication_kg, time_s, noise
            return
        self._carry(max(time_s - self.time_s, 0.0))
        self.time_s = max(time_s, self.time_s)
        innovation, variance = indication_kg - self.now_kg, self.p_mm + noise
        gain_m, gain_f = self.p_mm / variance, self.p_mf / variance
        self.now_kg += gain_m * innovation
        self.flow_kg_s += gain_f * innovation
        self.p_ff -= gain_f * self.p_mf
        self.p_mf *= 1.0 - gain_m
        self.p_mm *= 1.0 - gain_m

    def _carry(self, dt: float) -> None:
        if self.now_kg is None:
            return
        if not self.open.get("container", False):
            self.p_mm += STILL_KG_SQRT_S**2 * dt
            return
        q = ACCELERATION_KG_S2**2
        self.now_kg += self.flow_kg_s * dt
        self.p_mm += 2.0 * dt * self.p_mf + dt * dt * self.p_ff + q * dt**3 / 3.0
        self.p_mf += dt * self.p_ff + q * dt * dt / 2.0
        self.p_ff += q * dt

    def valve(self, name: str, *, is_open: bool) -> None:
        super().valve(name, is_open=is_open)
        if name != "container":
            return
        self.p_mm += (self.flow_kg_s * SETTLES_S) ** 2
        self.flow_kg_s, self.p_mf, self.p_ff = 0.0, 0.0, OPENING_KG_S**2 if is_open else 0.0

    def forget(self) -> None:
        self.flow_kg_s = self.p_mm = self.p_mf = self.p_ff = 0.0


METHODS = {"differencing": Differencing, "moving median": MovingMedian, "constant velocity": ConstantVelocity}
"""Makers by name, each given the scale's step in kg."""
