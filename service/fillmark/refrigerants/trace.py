"""Follows the bubble or the dew line of a blend, node by node, and lays splines through it.

Each node starts from the two below it, continued in the logarithm. The flash of CoolProp 8.0.0 starts from a
guess of its own and then fails at scattered states above about 2.5 MPa (R-410A dew at 316 and 318 K, R-407C
bubble from 328 to 332 K), the condensing temperatures of a warm day. Started from a neighbour it converges
up to 5 K below the critical temperature, to the same numbers, and several times faster.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fillmark.refrigerants.coolprop import State, codes, new_guesses
from fillmark.refrigerants.spline import CubicSpline

NODES = 200
BUBBLE, DEW = 0.0, 1.0


class TraceError(RuntimeError):
    """A node of the line could not be reached, or the pressure there does not rise."""


@dataclass(frozen=True, slots=True)
class SaturationLine:
    """Pressure, temperature and density along one line: ln p and ln ρ against 1/T, and 1/T against ln p."""

    temperature_min_k: float
    temperature_max_k: float
    pressure_min_pa: float
    pressure_max_pa: float
    log_pressure: CubicSpline
    inverse_temperature: CubicSpline
    log_density: CubicSpline

    def pressure_pa(self, temperature_k: float) -> float:
        """Pressure at a temperature within the line, Pa."""
        return math.exp(self.log_pressure(1.0 / temperature_k))

    def temperature_k(self, pressure_pa: float) -> float:
        """Temperature at a pressure within the line, K."""
        found = 1.0 / self.inverse_temperature(math.log(pressure_pa))
        # Rounding must not lead out of the line, or the way back to the pressure would be refused.
        return min(max(found, self.temperature_min_k), self.temperature_max_k)

    def density_kg_m3(self, temperature_k: float) -> float:
        """Density of the phase that is about to change, at a temperature within the line, kg/m³."""
        return math.exp(self.log_density(1.0 / temperature_k))


@dataclass(frozen=True, slots=True)
class _Node:
    temperature_k: float
    pressure_pa: float
    density_kg_m3: float
    logs: tuple[float, ...]
    """Logarithms of p, molar density of liquid and vapour, mole fractions of liquid, then of vapour."""


def trace(state: State, quality: float, low_k: float, high_k: float) -> SaturationLine:
    """The line of `quality` from `low_k` to `high_k`, both included. Raises `TraceError`."""
    cold, warm = 1.0 / low_k, 1.0 / high_k
    # The ends are given as they are: 1/(1/T) is not always T.
    inner = [1.0 / (cold + (warm - cold) * i / (NODES - 1)) for i in range(1, NODES - 1)]
    nodes: list[_Node] = []
    for temperature_k in (low_k, *inner, high_k):
        node = _flash(state, quality, temperature_k, nodes[-2:])
        if nodes and node.pressure_pa <= nodes[-1].pressure_pa:
            raise TraceError(f"saturation pressure does not rise at {temperature_k:.2f} K")
        nodes.append(node)
    log_p = [math.log(node.pressure_pa) for node in nodes]
    log_rho = [math.log(node.density_kg_m3) for node in nodes]
    inverse_t = [1.0 / node.temperature_k for node in nodes]
    pressure = CubicSpline(inverse_t[::-1], log_p[::-1])
    return SaturationLine(
        temperature_min_k=low_k,
        temperature_max_k=high_k,
        pressure_min_pa=math.exp(pressure(1.0 / low_k)),
        pressure_max_pa=math.exp(pressure(1.0 / high_k)),
        log_pressure=pressure,
        inverse_temperature=CubicSpline(log_p, inverse_t),
        log_density=CubicSpline(inverse_t[::-1], log_rho[::-1]),
    )


def _flash(state: State, quality: float, temperature_k: float, before: list[_Node]) -> _Node:
    code = codes()
    try:
        if len(before) < 2:
            state.update(code.qt, quality, temperature_k)
        else:
            _flash_from(state, quality, temperature_k, before)
    except ValueError as error:
        raise TraceError(f"no saturation found at {temperature_k:.2f} K: {error}") from error
    values = (
        state.p(),
        state.saturated_liquid_keyed_output(code.molar_density),
        state.saturated_vapor_keyed_output(code.molar_density),
        *state.mole_fractions_liquid(),
        *state.mole_fractions_vapor(),
    )
    return _Node(temperature_k, state.p(), state.rhomass(), tuple(math.log(value) for value in values))


def _flash_from(state: State, quality: float, temperature_k: float, before: list[_Node]) -> None:
    two_back, one_back = before
    start = [math.exp(2.0 * b - a) for a, b in zip(two_back.logs, one_back.logs, strict=True)]
    components = (len(start) - 3) // 2
    guesses = new_guesses()
    guesses.T, guesses.p, guesses.rhomolar_liq, guesses.rhomolar_vap = temperature_k, *start[:3]
    guesses.x, guesses.y = start[3 : 3 + components], start[3 + components :]
    state.update_with_guesses(codes().qt, quality, temperature_k, guesses)
