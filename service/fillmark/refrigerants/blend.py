"""Blends: bubble and dew kept apart, read from splines that are laid on first use.

Everything comes from the predefined mixture models (`NAME.mix`), also for the four blends of which CoolProp
has a pseudo-pure equation. One model then gives saturation, densities and superheated vapour without a step at
the dew line, and all blends are treated alike. The pseudo-pure equations stay independent: the tests compare.

A mixture flash costs 130 to 250 µs and fails in places; both lines cost 40 to 100 ms once, a spline 0.5 µs.
The splines end 5 K below the critical temperature: nearer to it neither the flash nor a cubic is reliable.
"""

from __future__ import annotations

import threading
from functools import cached_property

from fillmark.refrigerants.base import RefrigerantModel
from fillmark.refrigerants.coolprop import State, codes, new_state
from fillmark.refrigerants.names import Listed
from fillmark.refrigerants.trace import BUBBLE, DEW, SaturationLine, trace

LOWEST_K = 183.15
MARGIN_BELOW_CRITICAL_K = 5.0


class _Engine:
    """The two lines and the cached one-phase states of one blend."""

    def __init__(self, model: str, highest_k: float) -> None:
        code = codes()
        self.lock = threading.Lock()
        self.pair_pt = code.pt
        flash = new_state(model)
        self.bubble: SaturationLine = trace(flash, BUBBLE, LOWEST_K, highest_k)
        self.dew: SaturationLine = trace(flash, DEW, LOWEST_K, highest_k)
        # Held to one phase, a state of given temperature and pressure costs 10 to 20 µs instead of 2 to 6 ms.
        self.gas: State = new_state(model, code.gas)
        self.liquid: State = new_state(model, code.liquid)
        self.t_max = flash.Tmax()
        self.p_max = flash.pmax()


class BlendRefrigerant(RefrigerantModel):
    """A blend of given composition. Saturation reaches from −90 °C to 5 K below the critical temperature."""

    def __init__(self, listed: Listed) -> None:
        super().__init__(listed)
        if listed.critical_temperature_k is None:
            raise ValueError(f"{listed.name}: a blend needs its critical temperature in the table")
        self._critical_temperature_k = listed.critical_temperature_k

    @cached_property
    def _engine(self) -> _Engine:
        return _Engine(self._listed.model, self.saturation_temperature_max_k)

    @property
    def critical_temperature_k(self) -> float:
        """Critical temperature, K."""
        return self._critical_temperature_k

    @property
    def saturation_temperature_min_k(self) -> float:
        """Lower end of the lines, K."""
        return LOWEST_K

    @property
    def saturation_temperature_max_k(self) -> float:
        """Upper end of the lines, K: 5 K below the critical temperature."""
        return self._critical_temperature_k - MARGIN_BELOW_CRITICAL_K

    @property
    def vapour_temperature_max_k(self) -> float:
        """Upper end of the mixture model, K."""
        return self._engine.t_max

    def bubble_pressure_pa(self, temperature_k: float) -> float:
        """Pressure at which liquid begins to boil, Pa. Raises `OutOfRangeError`."""
        line = self._at_temperature(self._engine.bubble, "bubble point", temperature_k)
        return line.pressure_pa(temperature_k)

    def dew_pressure_pa(self, temperature_k: float) -> float:
        """Pressure at which vapour begins to condense, Pa. Raises `OutOfRangeError`."""
        line = self._at_temperature(self._engine.dew, "dew point", temperature_k)
        return line.pressure_pa(temperature_k)

    def bubble_temperature_k(self, pressure_pa: float) -> float:
        """Temperature at which liquid begins to boil, K. Raises `OutOfRangeError`."""
        return self._at_pressure(self._engine.bubble, "bubble point", pressure_pa).temperature_k(pressure_pa)

    def dew_temperature_k(self, pressure_pa: float) -> float:
        """Temperature at which vapour begins to condense, K. Raises `OutOfRangeError`."""
        return self._at_pressure(self._engine.dew, "dew point", pressure_pa).temperature_k(pressure_pa)

    def saturated_liquid_density_kg_m3(self, temperature_k: float) -> float:
        """Density of liquid at its bubble point, kg/m³. Raises `OutOfRangeError`."""
        line = self._at_temperature(self._engine.bubble, "bubble point", temperature_k)
        return line.density_kg_m3(temperature_k)

    def saturated_vapour_density_kg_m3(self, temperature_k: float) -> float:
        """Density of vapour at its dew point, kg/m³. Raises `OutOfRangeError`."""
        line = self._at_temperature(self._engine.dew, "dew point", temperature_k)
        return line.density_kg_m3(temperature_k)

    def vapour_density_kg_m3(self, temperature_k: float, pressure_pa: float) -> float:
        """Density of vapour, kg/m³. Above the upper end of the dew line only below the pressure there.

        Raises `OutOfRangeError`.
        """
        engine, dew = self._engine, self._engine.dew
        if not dew.temperature_min_k <= temperature_k <= engine.t_max:
            raise self._temperature_error("vapour density", temperature_k, dew.temperature_min_k, engine.t_max)
        highest_pa = engine.p_max if temperature_k <= dew.temperature_max_k else dew.pressure_max_pa
        if not 0.0 <= pressure_pa <= highest_pa:
            raise self._pressure_error("vapour density", pressure_pa, 0.0, highest_pa)
        if pressure_pa == 0.0:
            return 0.0
        if temperature_k <= dew.temperature_max_k and pressure_pa >= dew.pressure_pa(temperature_k):
            return dew.density_kg_m3(temperature_k)
        return self._density(engine, engine.gas, temperature_k, pressure_pa)

    def liquid_density_kg_m3(self, temperature_k: float, pressure_pa: float) -> float:
        """Density of liquid, kg/m³. Raises `OutOfRangeError`."""
        engine = self._engine
        bubble = self._at_temperature(engine.bubble, "liquid density", temperature_k)
        if not 0.0 <= pressure_pa <= engine.p_max:
            raise self._pressure_error("liquid density", pressure_pa, 0.0, engine.p_max)
        if pressure_pa <= bubble.pressure_pa(temperature_k):
            return bubble.density_kg_m3(temperature_k)
        return self._density(engine, engine.liquid, temperature_k, pressure_pa)

    def _at_temperature(self, line: SaturationLine, what: str, temperature_k: float) -> SaturationLine:
        if not line.temperature_min_k <= temperature_k <= line.temperature_max_k:
            raise self._temperature_error(what, temperature_k, line.temperature_min_k, line.temperature_max_k)
        return line

    def _at_pressure(self, line: SaturationLine, what: str, pressure_pa: float) -> SaturationLine:
        if not line.pressure_min_pa <= pressure_pa <= line.pressure_max_pa:
            raise self._pressure_error(what, pressure_pa, line.pressure_min_pa, line.pressure_max_pa)
        return line
