"""Saturation tables for the running circuit, by the temperature of the dew point, straight from CoolProp.

One row is one pressure: where its vapour begins to condense, where its liquid begins to boil, and the properties of
both. A blend's two temperatures differ; a pure refrigerant's do not. R-407C is taken as CoolProp's pseudo-pure fluid.
A table costs a few milliseconds once; a look-up a microsecond.
"""

from __future__ import annotations

from functools import cache
from typing import Any, NamedTuple

MODELS = {"R-134a": "R134a", "R-1234yf": "R1234yf", "R-407C": "R407C"}
COLDEST_C = -60.0
STEP_K = 0.5
BELOW_CRITICAL_K = 4.0


class Row(NamedTuple):
    """One pressure. Temperatures °C, pressure Pa, densities kg/m³, enthalpies J/kg, heat capacities J/kg K.

    `k` is the isentropic exponent of the saturated vapour, rho c² / p.
    """

    pressure_pa: float
    bubble_c: float
    rho_l: float
    rho_v: float
    h_l: float
    h_v: float
    cp_l: float
    cp_v: float
    k: float


class Table:
    """Rows of one refrigerant, interpolated linearly and clamped at the ends."""

    def __init__(self, name: str) -> None:
        import CoolProp  # noqa: PLC0415 - the import takes a second, so it waits for the first use

        make: Any = vars(CoolProp)["AbstractState"]
        state: Any = make("HEOS", MODELS[name])
        qt, pq = CoolProp.QT_INPUTS, CoolProp.PQ_INPUTS
        hottest = float(state.T_critical()) - 273.15 - BELOW_CRITICAL_K
        self.count = int((hottest - COLDEST_C) / STEP_K)
        self.rows = [_row(state, qt, pq, COLDEST_C + STEP_K * index) for index in range(self.count + 1)]

    def at(self, dew_c: float) -> Row:
        """The row of a dew temperature."""
        place = min(max((dew_c - COLDEST_C) / STEP_K, 0.0), self.count - 1e-6)
        index = int(place)
        share = place - index
        low, high = self.rows[index], self.rows[index + 1]
        return Row(*[a + share * (b - a) for a, b in zip(low, high, strict=True)])

    def dew_c(self, pressure_pa: float) -> float:
        """The dew temperature of a pressure."""
        low, high = 0, self.count
        while high - low > 1:
            middle = (low + high) // 2
            if self.rows[middle].pressure_pa > pressure_pa:
                high = middle
            else:
                low = middle
        below, above = self.rows[low].pressure_pa, self.rows[high].pressure_pa
        share = min(max((pressure_pa - below) / (above - below), 0.0), 1.0)
        return COLDEST_C + STEP_K * (low + share)

    def bubble_pressure_pa(self, bubble_c: float) -> float:
        """The pressure under which liquid of this temperature begins to boil."""
        dew = bubble_c
        for _ in range(6):
            dew += bubble_c - self.at(dew).bubble_c
        return self.at(dew).pressure_pa


def _row(state: Any, qt: int, pq: int, dew_c: float) -> Row:  # noqa: ANN401 - CoolProp has no types
    state.update(qt, 1.0, dew_c + 273.15)
    pressure, rho_v, h_v, cp_v = state.p(), state.rhomass(), state.hmass(), state.cpmass()
    k = rho_v * state.speed_sound() ** 2 / pressure
    state.update(pq, pressure, 0.0)
    return Row(
        pressure, state.T() - 273.15, state.rhomass(), rho_v, state.hmass(), h_v, state.cpmass(), cp_v, max(k, 1.01)
    )


@cache
def table(name: str) -> Table:
    """The shared table of one refrigerant."""
    return Table(name)
