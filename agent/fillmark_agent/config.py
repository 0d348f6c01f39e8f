"""The agent's configuration: a TOML file, checked before anything starts.

Every key has its sentence here; a message quotes it as what would do, with the file, the line and the key.
"""

from __future__ import annotations

import difflib
import json
from pathlib import Path
from typing import Annotated, Literal, Self

import httpx
from pydantic import AfterValidator, BeforeValidator, Field, SecretStr, ValidationInfo, model_validator

from fillmark_agent.bluetooth.table import BluetoothTable, BroadcastTable
from fillmark_agent.config_table import BAY_HINT, NAME, NAME_HINT, Table
from fillmark_agent.mqtt.table import MqttTable
from fillmark_agent.scales.tables import HidScaleTable, LineScaleTable


def _below_config(path: Path, info: ValidationInfo) -> Path:
    """A relative path counts from the folder of the configuration, not from where the agent was started."""
    folder = (info.context or {}).get("folder")
    return path if folder is None else Path(folder) / path


def _file(path: Path, info: ValidationInfo) -> Path:
    path = _below_config(path, info)
    if not path.is_file():
        raise ValueError(f"there is no file {path}")
    return path


def _scenario(name: str) -> str:
    # Imported here: only a configuration with a simulated bay needs the simulator.
    from fillmark_sim import scenarios  # noqa: PLC0415

    if name not in scenarios.names():
        close = difflib.get_close_matches(name, scenarios.names(), n=1)
        raise ValueError(f'"{name}" is no scenario' + (f", close to it: {', '.join(close)}" if close else ""))
    return name


def _http(url: str) -> str:
    try:
        parsed = httpx.URL(url)
    except httpx.InvalidURL as error:
        raise ValueError(f'"{url}" is no address ({error})') from error
    plain = parsed.scheme in {"http", "https"} and not parsed.query and not parsed.fragment and "%" not in parsed.host
    if not plain or not parsed.host or not 0 < (parsed.port or 1) < 65536:
        raise ValueError(f'"{url}" is no address')
    return url


def _header_safe(token: SecretStr) -> SecretStr:
    text = token.get_secret_value()
    if text and not (text.isascii() and text.isprintable() and " " not in text):
        raise ValueError("the token has a character that no HTTP header can carry")
    return token


def _speed(value: object) -> object:
    if value == "max":
        return None
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ValueError(f"{_shown(value)} is not a number")  # noqa: TRY004 - pydantic reports ValueError only
    if not 0.0 < value < float("inf"):
        raise ValueError(f"{value:g} is not above 0")
    return float(value)


def _shown(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, default=str)


FilePath = Annotated[Path, AfterValidator(_below_config)]
Url = Annotated[str, AfterValidator(_http)]
Speed = Annotated[float | None, BeforeValidator(_speed)]


class ServiceTable(Table):
    """Where the readings go."""

    url: Url = Field(default="http://127.0.0.1:8000", description="the service's address, as http://127.0.0.1:8000")
    token: Annotated[SecretStr, AfterValidator(_header_safe)] = Field(
        default=SecretStr(""),
        description="the write token as text, or leave it to the environment variable FILLMARK_TOKEN",
    )
    timeout_s: float = Field(
        default=10.0, gt=0.0, le=300.0, description="seconds to wait for an answer, above 0 to 300"
    )


class SpoolTable(Table):
    """Where readings wait."""

    path: FilePath = Field(
        default=Path("spool.sqlite"), validate_default=True, description="a file name, relative to this configuration"
    )
    max_records: int = Field(default=5_000_000, ge=1000, description="a whole number from 1000")
    max_bytes: int = Field(default=512 * 1024 * 1024, ge=1_000_000, description="a whole number from 1000000")
    memory_records: int = Field(default=100_000, ge=1000, description="a whole number from 1000")
    refused_records: int = Field(default=100_000, ge=1, description="a whole number from 1")


class UplinkTable(Table):
    """How the spool is sent."""

    batch_records: int = Field(default=500, ge=1, le=5000, description="a whole number from 1 to 5000")
    batch_bytes: int = Field(
        default=256 * 1024, ge=1024, le=1024 * 1024, description="a whole number from 1024 to 1048576"
    )
    linger_s: float = Field(default=0.05, ge=0.0, le=5.0, description="seconds from 0 to 5, as 0.05")
    backoff_cap_s: float = Field(default=10.0, gt=0.0, le=600.0, description="seconds above 0 to 600, as 10")
    future_retry_s: float = Field(default=5.0, gt=0.0, le=600.0, description="seconds above 0 to 600, as 5")


class LinkTable(Table):
    """When a device's link is given up and set up again."""

    silent_intervals: float = Field(default=10.0, ge=2.0, description="a number from 2, as 10")
    silent_at_least_s: float = Field(default=3.0, gt=0.0, description="seconds above 0, as 3")
    connect_s: float = Field(default=60.0, gt=0.0, description="seconds above 0, as 60")


class LogTable(Table):
    """What the agent says of itself on stderr."""

    level: Literal["debug", "info", "warning", "error"] = Field(
        default="info", description='one of "debug", "info", "warning", "error"'
    )
    status_every_s: float = Field(default=10.0, ge=0.0, description="seconds between two status lines, 0 for none")


class RecordedTable(Table):
    """A recorded stream that is played."""

    driver: Literal["recorded"]
    name: str = Field(pattern=NAME, description=NAME_HINT)
    path: Annotated[Path, AfterValidator(_file)] = Field(
        description="the path of a stream NAME.senml.jsonl, relative to this configuration"
    )
    speed: Speed = Field(default=1.0, description='1, 10 or "max"')
    times: Literal["restamp", "original"] | None = Field(default=None, description='"restamp" or "original"')
    bay: str | None = Field(default=None, pattern=NAME, description=BAY_HINT)

    @property
    def restamp(self) -> bool:
        """Whether records get the time of their emission: by default whenever there is a pace."""
        return self.speed is not None if self.times is None else self.times == "restamp"

    @model_validator(mode="after")
    def _has_pace(self) -> Self:
        if self.speed is None and self.times == "restamp":
            raise ValueError('speed "max" has no pace to restamp by; set times = "original" or a number as speed')
        return self


class SimulatedTable(Table):
    """A simulated bay."""

    driver: Literal["simulated"]
    name: str = Field(pattern=NAME, description=NAME_HINT)
    scenario: Annotated[str, AfterValidator(_scenario)] = Field(
        description="the name of a scenario, see `fillmark simulate --help`"
    )
    seed: int = Field(default=1, ge=0, description="a whole number from 0")
    bay: str = Field(default="bay-1", pattern=NAME, description=BAY_HINT)
    look_at: Url | None = Field(
        default=None, description="the address of the service to look at, as http://127.0.0.1:8000"
    )
    air: bool = Field(
        default=False, description="true to send what is measured over Bluetooth in memory, which then is the radio"
    )


DeviceTable = Annotated[
    RecordedTable | SimulatedTable | HidScaleTable | LineScaleTable | MqttTable | BluetoothTable | BroadcastTable,
    Field(discriminator="driver"),
]


def _own_names(devices: tuple[DeviceTable, ...]) -> tuple[DeviceTable, ...]:
    names = [device.name for device in devices]
    if not names:
        raise ValueError("there is none")
    for name in names:
        if names.count(name) > 1:
            raise ValueError(f'two have the name "{name}"')
    return devices


class AgentConfig(Table):
    """The whole file."""

    service: ServiceTable = Field(default_factory=ServiceTable, description="a table [service]")
    spool: SpoolTable = Field(default_factory=SpoolTable, description="a table [spool]")
    uplink: UplinkTable = Field(default_factory=UplinkTable, description="a table [uplink]")
    link: LinkTable = Field(default_factory=LinkTable, description="a table [link]")
    log: LogTable = Field(default_factory=LogTable, description="a table [log]")
    devices: Annotated[tuple[DeviceTable, ...], AfterValidator(_own_names)] = Field(
        description="at least one [[devices]] with a driver, each with its own name"
    )
