"""From the tables of a configuration to devices: one row a driver. A driver's own code is imported only when used."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fillmark.wire.clock import Clock
from fillmark_agent.bluetooth.table import BluetoothTable, BroadcastTable
from fillmark_agent.config import AgentConfig, DeviceTable, RecordedTable, SimulatedTable
from fillmark_agent.device import Device
from fillmark_agent.mqtt.table import MqttTable
from fillmark_agent.scales.tables import HidScaleTable, LineScaleTable

if TYPE_CHECKING:
    from fillmark_agent.bluetooth.radio import Radio
    from fillmark_sim.bluetooth.bay import BayOnAir


@dataclass(slots=True)
class Shared:
    """What the devices of one agent have in common."""

    clock: Clock
    _radio: Radio | None = None
    _air: BayOnAir | None = None

    @property
    def radio(self) -> Radio:
        """The Bluetooth adapter: the system's, unless there is an air."""
        if self._radio is None:
            from fillmark_agent.bluetooth.radio import Radio  # noqa: PLC0415 - only when used

            self._radio = Radio()
        return self._radio

    def air(self) -> BayOnAir:
        """Bluetooth in memory, from now on the radio of all.

        Raises:
            MissingExtraError: the stack in memory is not installed.
        """
        if self._air is None:
            from fillmark_agent.bluetooth.radio import NoCare, Radio  # noqa: PLC0415 - only when used
            from fillmark_sim.bluetooth.bay import BayOnAir  # noqa: PLC0415 - only when used

            self._air = air = BayOnAir()
            self._radio = Radio(air.adapter.scanner, air.adapter.client, NoCare(), begin=air.power_on)
        return self._air


def _recorded(table: RecordedTable, shared: Shared) -> Device:
    from fillmark_agent.drivers.recorded import RecordedDevice, Recording  # noqa: PLC0415 - only when used

    return RecordedDevice(Recording(table.path, table.name, table.speed, table.restamp, table.bay), shared.clock)


def _simulated(table: SimulatedTable, shared: Shared) -> Device:
    from fillmark_agent.drivers.simulated import SimulatedDevice, Simulation  # noqa: PLC0415 - only when used

    simulation = Simulation(table.name, table.scenario, table.seed, table.bay, table.look_at)
    return SimulatedDevice(simulation, shared.clock, air=shared.air() if table.air else None)


def _hid_scale(table: HidScaleTable, shared: Shared) -> Device:
    from fillmark_agent.drivers.hid_scale import HidScaleDevice  # noqa: PLC0415 - only when used

    return HidScaleDevice(table, shared.clock)


def _line_scale(table: LineScaleTable, shared: Shared) -> Device:
    from fillmark_agent.drivers.line_scale import LineScaleDevice  # noqa: PLC0415 - only when used

    return LineScaleDevice(table, shared.clock)


def _mqtt(table: MqttTable, shared: Shared) -> Device:
    from fillmark_agent.drivers.mqtt import MqttDevice  # noqa: PLC0415 - only when used

    return MqttDevice(table, shared.clock)


def _bluetooth(table: BluetoothTable, shared: Shared) -> Device:
    from fillmark_agent.bluetooth.device import BluetoothDevice  # noqa: PLC0415 - only when used

    return BluetoothDevice(table, shared.clock, shared.radio)


def _broadcast(table: BroadcastTable, shared: Shared) -> Device:
    from fillmark_agent.bluetooth.broadcast import BroadcastDevice  # noqa: PLC0415 - only when used

    return BroadcastDevice(table, shared.clock, shared.radio)


BUILDERS: Mapping[type[DeviceTable], Callable[..., Device]] = {
    RecordedTable: _recorded,
    SimulatedTable: _simulated,
    HidScaleTable: _hid_scale,
    LineScaleTable: _line_scale,
    MqttTable: _mqtt,
    BluetoothTable: _bluetooth,
    BroadcastTable: _broadcast,
}


def build_devices(config: AgentConfig, clock: Clock) -> list[Device]:
    """The devices of a configuration, in its order.

    Raises:
        MissingExtraError: a device needs a package that is not installed; the sentence says which.
    """
    shared = Shared(clock)
    if any(isinstance(table, SimulatedTable) and table.air for table in config.devices):
        shared.air()  # before any device takes the system's adapter
    return [BUILDERS[type(table)](table, shared) for table in config.devices]
