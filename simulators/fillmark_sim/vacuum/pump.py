"""The vacuum pump and the hose in front of it.

Conductance of a round tube for air (any textbook of vacuum technology; at 20 °C, in cm, mbar and l/s, 135 d⁴/L · p̄
viscous and 12.1 d³/L molecular): both added, so that the transition between is roughly met. A port counts as an
aperture in molecular flow (116 m/s times its area). All gases pass as air does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

AIR_PA_S = 1.82e-5
AIR_KG_PER_MOL = 0.028964
GAS_J_PER_MOLK = 8.314462618
ROOM_K = 293.15
BALLAST_RAISES = 3.0
WET_OIL_PA_PER_KG = 2.0e4
WET_OIL_MOST_PA = 400.0


def viscous_m3_s_pa(bore_m: float, length_m: float) -> float:
    """Viscous conductance of a tube for air per pascal of mean pressure (Hagen-Poiseuille)."""
    return math.pi * bore_m**4 / (128.0 * AIR_PA_S * length_m)


def molecular_m3_s(bore_m: float, length_m: float, temperature_k: float = ROOM_K) -> float:
    """Molecular conductance of a long tube for air (Knudsen)."""
    speed = math.sqrt(8.0 * GAS_J_PER_MOLK * temperature_k / (math.pi * AIR_KG_PER_MOL))
    return math.pi * bore_m**3 * speed / (12.0 * length_m)


def aperture_m3_s(bore_m: float, temperature_k: float = ROOM_K) -> float:
    """Molecular conductance of a thin aperture for air."""
    speed = math.sqrt(GAS_J_PER_MOLK * temperature_k / (2.0 * math.pi * AIR_KG_PER_MOL))
    return math.pi / 4.0 * bore_m * bore_m * speed


@dataclass(frozen=True, slots=True)
class PumpData:
    """Pump and hose.

    Attributes:
        speed_m3_s: nominal.
        ultimate_pa: what it reaches when it pumps nothing.
        ballast: gas ballast open: a worse ultimate pressure, but water does not stay in the pump's oil.
        hose_m, bore_m: length and bore of the hose.
        port_m: narrowest bore, in the service port.
    """

    speed_m3_s: float = 1.2e-3
    ultimate_pa: float = 4.0
    ballast: bool = False
    hose_m: float = 1.5
    bore_m: float = 6.0e-3
    port_m: float = 2.5e-3


class Pump:
    """A running pump. Remembers the water that its oil has swallowed."""

    def __init__(self, data: PumpData) -> None:
        self.data = data
        self._viscous = viscous_m3_s_pa(data.bore_m, data.hose_m)
        self._molecular = molecular_m3_s(data.bore_m, data.hose_m)
        self._port = aperture_m3_s(data.port_m)
        self._swallowed_kg = 0.0

    @property
    def ultimate_pa(self) -> float:
        """Ultimate pressure now. Water in the pump's oil raises it (an assumed 20 Pa a gram, 400 Pa at most)."""
        if self.data.ballast:
            return self.data.ultimate_pa * BALLAST_RAISES
        return self.data.ultimate_pa + min(WET_OIL_MOST_PA, WET_OIL_PA_PER_KG * self._swallowed_kg)

    def swallow(self, water_kg: float) -> None:
        """Water vapour (kg) has passed into the pump."""
        self._swallowed_kg += water_kg

    def throughput_pa_m3_s(self, pressure_pa: float) -> float:
        """Gas drawn out of a circuit at this pressure (Pa·m³/s): port, hose and pump in series, in closed form."""
        lowest = self.ultimate_pa
        drop = pressure_pa - lowest
        if drop <= 0.0:
            return 0.0
        half = self._viscous / 2.0
        r = 1.0 / self._port + 1.0 / self.data.speed_m3_s
        w = 1.0 / self.data.speed_m3_s - 1.0 / self._port
        a0 = half * (pressure_pa + lowest) + self._molecular
        b = 1.0 + a0 * r - half * w * drop
        c = a0 * drop
        return 2.0 * c / (b + math.sqrt(max(0.0, b * b + 4.0 * half * w * r * c)))
