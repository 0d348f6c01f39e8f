"""What pure refrigerants and blends have in common."""

from __future__ import annotations

import math
import threading
from abc import ABC, abstractmethod
from typing import Protocol

from fillmark.refrigerants.coolprop import State
from fillmark.refrigerants.names import Listed
from fillmark.refrigerants.protocol import OutOfRangeError

_ZERO_CELSIUS_K = 273.15


class PhaseEngine(Protocol):
    """What a density of given temperature and pressure needs of a refrigerant's cached states."""

    lock: threading.Lock
    pair_pt: int


class RefrigerantModel(ABC):
    """The protocol `Refrigerant`, and what follows from it. SI units; pressures are absolute.

    May be shared between threads. The CoolProp states of a refrigerant are guarded by one lock: an update and
    the reading of its result are two calls, and another thread between them would change the answer. A lock
    costs 0.1 µs; states of their own would cost every new thread of a server's pool milliseconds.
    """

    def __init__(self, listed: Listed) -> None:
        self._listed = listed

    def _density(self, engine: PhaseEngine, state: State, temperature_k: float, pressure_pa: float) -> float:
        """Density of one cached phase, kg/m³. Raises `OutOfRangeError`."""
        try:
            with engine.lock:
                state.update(engine.pair_pt, pressure_pa, temperature_k)
                return state.rhomass()
        except ValueError as error:
            raise OutOfRangeError(
                f"{self.name} has no density at {temperature_k} K and {pressure_pa} Pa: {error}"
            ) from error

    @property
    def name(self) -> str:
        """The designation of ASHRAE 34, for example "R-134a"."""
        return self._listed.name

    @property
    def blend(self) -> bool:
        """Whether it is a mixture."""
        return self._listed.blend

    @property
    def zeotropic(self) -> bool:
        """Whether vapour leaving changes what stays behind (blends of the 400 series)."""
        return self._listed.zeotropic

    @property
    @abstractmethod
    def critical_temperature_k(self) -> float:
        """Critical temperature, K. Above it there is no saturation."""

    @property
    @abstractmethod
    def saturation_temperature_min_k(self) -> float:
        """Lowest temperature at which saturation is answered, K."""

    @property
    @abstractmethod
    def saturation_temperature_max_k(self) -> float:
        """Highest temperature at which saturation is answered, K."""

    @property
    @abstractmethod
    def vapour_temperature_max_k(self) -> float:
        """Highest temperature at which a vapour density is answered, K."""

    @abstractmethod
    def bubble_pressure_pa(self, temperature_k: float) -> float:
        """Pressure at which liquid of `temperature_k` begins to boil, Pa. Raises `OutOfRangeError`."""

    @abstractmethod
    def dew_pressure_pa(self, temperature_k: float) -> float:
        """Pressure at which vapour of `temperature_k` begins to condense, Pa. Raises `OutOfRangeError`."""

    @abstractmethod
    def bubble_temperature_k(self, pressure_pa: float) -> float:
        """Temperature at which liquid under `pressure_pa` begins to boil, K. Raises `OutOfRangeError`."""

    @abstractmethod
    def dew_temperature_k(self, pressure_pa: float) -> float:
        """Temperature at which vapour under `pressure_pa` begins to condense, K. Raises `OutOfRangeError`."""

    @abstractmethod
    def saturated_liquid_density_kg_m3(self, temperature_k: float) -> float:
        """Density of liquid at its bubble point, kg/m³. Raises `OutOfRangeError`."""

    @abstractmethod
    def saturated_vapour_density_kg_m3(self, temperature_k: float) -> float:
        """Density of vapour at its dew point, kg/m³. Raises `OutOfRangeError`."""

    @abstractmethod
    def vapour_density_kg_m3(self, temperature_k: float, pressure_pa: float) -> float:
        """Density of vapour (superheated, or saturated at most), kg/m³; 0 at zero pressure.

        A pressure above the dew pressure is answered with the saturated vapour's density.
        Raises `OutOfRangeError`.
        """

    @abstractmethod
    def liquid_density_kg_m3(self, temperature_k: float, pressure_pa: float) -> float:
        """Density of liquid (subcooled, or saturated at least), kg/m³.

        A pressure below the bubble pressure is answered with the saturated liquid's density.
        Raises `OutOfRangeError`.
        """

    def superheat_k(self, temperature_k: float, pressure_pa: float) -> float:
        """Temperature above the dew point of `pressure_pa`, K, or negative. Raises `OutOfRangeError`."""
        self._require_number("temperature", temperature_k)
        return temperature_k - self.dew_temperature_k(pressure_pa)

    def subcooling_k(self, temperature_k: float, pressure_pa: float) -> float:
        """Temperature below the bubble point of `pressure_pa`, K, or negative. Raises `OutOfRangeError`."""
        self._require_number("temperature", temperature_k)
        return self.bubble_temperature_k(pressure_pa) - temperature_k

    def _require_number(self, what: str, value: float) -> None:
        if not 0.0 <= value < math.inf:
            raise OutOfRangeError(f"{self.name}: a {what} of {value} is not possible.")

    def _temperature_error(self, what: str, value: float, low: float, high: float) -> OutOfRangeError:
        limits = f"{low - _ZERO_CELSIUS_K:.2f} to {high - _ZERO_CELSIUS_K:.2f} °C"
        return OutOfRangeError(
            f"{self.name} has no {what} at {value - _ZERO_CELSIUS_K:.2f} °C: it is known from {limits}."
        )

    def _pressure_error(self, what: str, value: float, low: float, high: float) -> OutOfRangeError:
        return OutOfRangeError(
            f"{self.name} has no {what} at {value / 1e5:.6g} bar absolute: "
            f"it is known from {low / 1e5:.6g} to {high / 1e5:.6g} bar absolute."
        )
