"""Pure refrigerants: the Helmholtz-energy equations, asked directly."""

from __future__ import annotations

import threading
from functools import cached_property

from fillmark.refrigerants.base import RefrigerantModel
from fillmark.refrigerants.coolprop import State, codes, new_state


class _Engine:
    """The cached states of one pure fluid and the limits of its equation."""

    def __init__(self, model: str) -> None:
        code = codes()
        self.lock = threading.Lock()
        self.pair_qt, self.pair_pq, self.pair_pt = code.qt, code.pq, code.pt
        self.saturated: State = new_state(model)
        self.single: State = new_state(model)
        self.gas: State = new_state(model, code.gas)
        self.liquid: State = new_state(model, code.liquid)
        self.t_min = self.saturated.Tmin()
        self.t_max = self.saturated.Tmax()
        self.t_critical = self.saturated.T_critical()
        self.p_critical = self.saturated.p_critical()
        self.p_max = self.saturated.pmax()
        # CoolProp answers below the triple point too, where there is no liquid. These are the true ends.
        self.saturated.update(code.qt, 1.0, self.t_min)
        self.p_min = self.saturated.p()


class PureRefrigerant(RefrigerantModel):
    """A pure refrigerant: bubble and dew coincide, from the triple to the critical point."""

    @cached_property
    def _engine(self) -> _Engine:
        return _Engine(self._listed.model)

    @property
    def critical_temperature_k(self) -> float:
        """Critical temperature, K."""
        return self._engine.t_critical

    @property
    def saturation_temperature_min_k(self) -> float:
        """The triple point, K."""
        return self._engine.t_min

    @property
    def saturation_temperature_max_k(self) -> float:
        """The critical point, K."""
        return self._engine.t_critical

    @property
    def vapour_temperature_max_k(self) -> float:
        """Upper end of the equation of state, K."""
        return self._engine.t_max

    def bubble_pressure_pa(self, temperature_k: float) -> float:
        """Saturation pressure, Pa. Raises `OutOfRangeError`."""
        return self._saturated(0.0, temperature_k)[0]

    def dew_pressure_pa(self, temperature_k: float) -> float:
        """Saturation pressure, Pa. Raises `OutOfRangeError`."""
        return self._saturated(1.0, temperature_k)[0]

    def bubble_temperature_k(self, pressure_pa: float) -> float:
        """Saturation temperature, K. Raises `OutOfRangeError`."""
        engine = self._engine
        if not engine.p_min <= pressure_pa <= engine.p_critical:
            raise self._pressure_error("saturation", pressure_pa, engine.p_min, engine.p_critical)
        with engine.lock:
            engine.saturated.update(engine.pair_pq, pressure_pa, 0.0)
            found = engine.saturated.T()
        # Rounding must not lead past the ends, or the way back to the pressure would be refused.
        return min(max(found, engine.t_min), engine.t_critical)

    def dew_temperature_k(self, pressure_pa: float) -> float:
        """Saturation temperature, K. Raises `OutOfRangeError`."""
        return self.bubble_temperature_k(pressure_pa)

    def saturated_liquid_density_kg_m3(self, temperature_k: float) -> float:
        """Density of saturated liquid, kg/m³. Raises `OutOfRangeError`."""
        return self._saturated(0.0, temperature_k)[1]

    def saturated_vapour_density_kg_m3(self, temperature_k: float) -> float:
        """Density of saturated vapour, kg/m³. Raises `OutOfRangeError`."""
        return self._saturated(1.0, temperature_k)[1]

    def vapour_density_kg_m3(self, temperature_k: float, pressure_pa: float) -> float:
        """Density of vapour, or of the fluid above its critical temperature, kg/m³.

        0 at zero pressure. A pressure above saturation is answered with the saturated vapour's density.
        Raises `OutOfRangeError`.
        """
        engine = self._engine
        if not engine.t_min <= temperature_k <= engine.t_max:
            raise self._temperature_error("vapour density", temperature_k, engine.t_min, engine.t_max)
        self._require_pressure(pressure_pa)
        if pressure_pa == 0.0:
            return 0.0
        if temperature_k >= engine.t_critical:
            # Above the critical temperature there is one density at each pressure, so no phase is imposed.
            return self._density(engine, engine.single, temperature_k, pressure_pa)
        dew_pa, dew_density = self._saturated(1.0, temperature_k)
        if pressure_pa >= dew_pa:
            return dew_density
        return self._density(engine, engine.gas, temperature_k, pressure_pa)

    def liquid_density_kg_m3(self, temperature_k: float, pressure_pa: float) -> float:
        """Density of liquid below the critical temperature, kg/m³. Raises `OutOfRangeError`."""
        self._require_pressure(pressure_pa)
        bubble_pa, bubble_density = self._saturated(0.0, temperature_k)
        if pressure_pa <= bubble_pa:
            return bubble_density
        return self._density(self._engine, self._engine.liquid, temperature_k, pressure_pa)

    def _require_pressure(self, pressure_pa: float) -> None:
        if not 0.0 <= pressure_pa <= self._engine.p_max:
            raise self._pressure_error("density", pressure_pa, 0.0, self._engine.p_max)

    def _saturated(self, quality: float, temperature_k: float) -> tuple[float, float]:
        engine = self._engine
        if not engine.t_min <= temperature_k <= engine.t_critical:
            raise self._temperature_error("saturation", temperature_k, engine.t_min, engine.t_critical)
        with engine.lock:
            engine.saturated.update(engine.pair_qt, quality, temperature_k)
            return engine.saturated.p(), engine.saturated.rhomass()
