"""An evacuated circuit from first principles: pump, leak, water, oil, gauge, and random holds with their truth."""

from fillmark_sim.vacuum.circuit import VacuumCircuit, leak_pa_m3_s
from fillmark_sim.vacuum.gauge import Gauge, GaugeData
from fillmark_sim.vacuum.holds import HoldCase, sample_hold
from fillmark_sim.vacuum.oil import Dissolved
from fillmark_sim.vacuum.pulldowns import PullDownCase, sample_pull_down
from fillmark_sim.vacuum.pump import Pump, PumpData
from fillmark_sim.vacuum.water import WetSpot, saturation_pa
from fillmark_sim.vacuum.weather import Weather

__all__ = [
    "Dissolved", "Gauge", "GaugeData", "HoldCase", "PullDownCase", "Pump", "PumpData", "VacuumCircuit", "Weather",
    "WetSpot", "leak_pa_m3_s", "sample_hold", "sample_pull_down", "saturation_pa",
]  # fmt: skip
