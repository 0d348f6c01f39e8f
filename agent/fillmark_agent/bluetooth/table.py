"""The tables of Bluetooth devices: which device, and what each of its values is."""

from __future__ import annotations

from typing import Annotated, Literal, Self, TypeVar

from pydantic import AfterValidator, Field, model_validator

from fillmark_agent.bluetooth.identity import Target, full_uuid
from fillmark_agent.config_table import BAY_HINT, NAME, NAME_HINT, Table
from fillmark_agent.edge.channel_table import ChannelTable
from fillmark_agent.edge.layout import LayoutTable

Uuid = Annotated[str, AfterValidator(full_uuid)]
_UUID_HINT = 'four digits of the Bluetooth SIG, as "2a9d", or a UUID'


T = TypeVar("T")


def _some(channels: tuple[T, ...]) -> tuple[T, ...]:
    # Not a minimal length: that would also be reported where the only channel has a mistake.
    if not channels:
        raise ValueError("there is none")
    return channels


class BluetoothChannel(ChannelTable):
    """A channel that a characteristic feeds."""

    characteristic: Uuid = Field(description=_UUID_HINT)
    layout: LayoutTable | None = Field(
        default=None,
        description="a table with offset, format, scale, unit; none when the device says it itself",
    )
    poll_s: float = Field(default=1.0, gt=0.0, description="seconds between two reads of a value that is not notified")
    interval_s: float | None = Field(
        default=None, gt=0.0, description="seconds between two values of a channel that always sends, as 0.5"
    )


class BroadcastChannel(ChannelTable):
    """A channel that advertisements feed."""

    service_data: Uuid | None = Field(default=None, description=_UUID_HINT)
    manufacturer: int | None = Field(default=None, ge=0, le=0xFFFF, description="a company identifier, as 0xffff")
    layout: LayoutTable = Field(description="a table with offset, format, scale, unit")

    @model_validator(mode="after")
    def _comes_from_one_place(self) -> Self:
        if (self.service_data is None) == (self.manufacturer is None):
            raise ValueError("give either service_data or manufacturer, where the advertisement has the bytes")
        return self


class _RadioTable(Table):
    name: str = Field(pattern=NAME, description=NAME_HINT)
    bay: str = Field(default="bay-1", pattern=NAME, description=BAY_HINT)
    address: str | None = Field(
        default=None, min_length=1, description="the address, or what `fillmark-agent scan` shows in its place"
    )
    local_name: str | None = Field(default=None, min_length=1, description="the name that the device advertises")
    interval_s: float | None = Field(
        default=None, gt=0.0, description="seconds between two values of a device that always sends, as 0.5"
    )

    @property
    def target(self) -> Target:
        """The device that is meant."""
        return Target(self.address, self.local_name)

    @model_validator(mode="after")
    def _can_be_told_apart(self) -> Self:
        if self.address is None and self.local_name is None:
            raise ValueError("nothing says which device; give address or local_name, see `fillmark-agent scan`")
        return self


class BluetoothTable(_RadioTable):
    """A Bluetooth device that is connected to."""

    driver: Literal["bluetooth"]
    channels: Annotated[tuple[BluetoothChannel, ...], AfterValidator(_some)] = Field(
        description="at least one [[devices.channels]] with channel and characteristic"
    )


class BroadcastTable(_RadioTable):
    """A Bluetooth sensor that only broadcasts."""

    driver: Literal["bluetooth-broadcast"]
    channels: Annotated[tuple[BroadcastChannel, ...], AfterValidator(_some)] = Field(
        description="at least one [[devices.channels]] with channel, layout and where the bytes are"
    )
