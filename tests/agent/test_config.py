"""Every mistake in a configuration becomes one line: file, line, key, what is wrong, what would do."""

from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import BaseModel

from fillmark_agent.config import (
    AgentConfig,
    LinkTable,
    LogTable,
    RecordedTable,
    ServiceTable,
    SimulatedTable,
    SpoolTable,
    UplinkTable,
)
from fillmark_agent.config_file import ConfigError, load, parse
from fillmark_agent.mqtt.table import MqttTable, TopicTable
from fillmark_agent.scales.tables import HidScaleTable, LineScaleTable

GOOD = """\
[service]
url = "http://127.0.0.1:8000"

[[devices]]
driver = "recorded"
name = "van"
path = "van.senml.jsonl"
speed = 10

[[devices]]
driver = "simulated"
name = "bay-2"
bay = "bay-2"
scenario = "harvester-clean"
look_at = "http://127.0.0.1:8000"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "van.senml.jsonl").write_text("")
    return tmp_path


def problems(text: str, folder: Path) -> tuple[str, ...]:
    with pytest.raises(ConfigError) as caught:
        parse(text, folder / "bay.toml", {})
    return tuple(problem.removeprefix(f"{folder}/") for problem in caught.value.problems)


def test_a_good_file_is_read_and_paths_count_from_its_folder(folder: Path) -> None:
    (folder / "bay.toml").write_text(GOOD)
    config = load(folder / "bay.toml", {})
    recorded, simulated = config.devices
    assert isinstance(recorded, RecordedTable)
    assert (recorded.path, recorded.speed, recorded.restamp) == (folder / "van.senml.jsonl", 10.0, True)
    assert isinstance(simulated, SimulatedTable)
    assert (simulated.scenario, simulated.bay, simulated.seed) == ("harvester-clean", "bay-2", 1)
    assert config.spool.path == folder / "spool.sqlite"
    assert config.uplink.batch_records == 500


ADDRESS = 'url = "http://127.0.0.1:8000"\n\n'
PATH_LINE = 'path = "van.senml.jsonl"\n'
DRIVERS = ("recorded", "simulated", "hid-scale", "line-scale", "mqtt", "bluetooth", "bluetooth-broadcast")
DRIVER_LINE = 'driver = "recorded"\n'
SPEED_HINT = 'give 1, 10 or "max"'
URL_HINT = "give the service's address, as http://127.0.0.1:8000"
PATH_HINT = "give the path of a stream NAME.senml.jsonl, relative to this configuration"
PACE_HINT = 'set times = "original" or a number as speed'
TIMEOUT_HINT = "give seconds to wait for an answer, above 0 to 300"
DEVICES_HINT = "give at least one [[devices]] with a driver, each with its own name"
NAME_PROBLEM = "string should match pattern '^[A-Za-z0-9][A-Za-z0-9_.-]*$'"
SCENARIO_HINT = "give the name of a scenario, see `fillmark simulate --help`"
CLOSE = '"harvester-clen" is no scenario, close to it: harvester-clean'
MISTAKES = {
    (8, 'devices[0].speed: "fast" is not a number; ' + SPEED_HINT): ("speed = 10", 'speed = "fast"'),
    (8, "devices[0].speed: 0 is not above 0; " + SPEED_HINT): ("speed = 10", "speed = 0"),
    (8, "devices[0].speed: true is not a number; " + SPEED_HINT): ("speed = 10", "speed = true"),
    (8, 'devices[0].sped: unknown key; do you mean "speed"?'): ("speed = 10", "sped = 10"),
    (4, 'devices[0]: speed "max" has no pace to restamp by; ' + PACE_HINT): (
        "speed = 10",
        'speed = "max"\ntimes = "restamp"',
    ),
    (4, "devices[0].path: missing; " + PATH_HINT): (PATH_LINE, ""),
    (5, 'devices[0].driver: "magic" is no driver; give one of ' + ", ".join(f"'{one}'" for one in DRIVERS)): (
        DRIVER_LINE,
        'driver = "magic"\n',
    ),
    (4, "devices[0].driver: missing; give one of " + ", ".join(f'"{one}"' for one in DRIVERS)): (DRIVER_LINE, ""),
    (1, 'servise: unknown key; do you mean "service"?'): ("[service]", "[servise]"),
    (2, "service.address: unknown key; known here: url, token, timeout_s"): (ADDRESS, "address = 1\n\n"),
    (2, 'service.url: "localhost" is no address; ' + URL_HINT): (ADDRESS, 'url = "localhost"\n\n'),
    (2, "service.timeout_s: -1: input should be greater than 0; " + TIMEOUT_HINT): (ADDRESS, "timeout_s = -1\n\n"),
    (4, 'devices: two have the name "van"; ' + DEVICES_HINT): ('name = "bay-2"', 'name = "van"'),
    (12, f'devices[1].name: "a b": {NAME_PROBLEM}; give a name of letters, digits and - _ .'): (
        'name = "bay-2"',
        'name = "a b"',
    ),
    (14, f"devices[1].scenario: {CLOSE}; {SCENARIO_HINT}"): ('"harvester-clean"', '"harvester-clen"'),
}


@pytest.mark.parametrize(("place", "change"), MISTAKES.items(), ids=str)
def test_a_mistake_is_named_with_line_and_key(folder: Path, place: tuple[int, str], change: tuple[str, str]) -> None:
    assert GOOD.count(change[0]) == 1
    line, message = place
    assert problems(GOOD.replace(*change), folder) == (f"bay.toml:{line}: {message}",)


@pytest.mark.parametrize(
    "url",
    ["http://", "http://:80", "http://h:99999", "http://h:x", "http://a b", "ftp://h", "http://h?q=1", "", "h:80"],
)
def test_an_address_that_leads_nowhere_is_refused(folder: Path, url: str) -> None:
    (problem,) = problems(GOOD.replace(ADDRESS, f'url = "{url}"\n\n'), folder)
    assert problem.startswith(f'bay.toml:2: service.url: "{url}" is no address')
    assert problem.endswith(URL_HINT)


@pytest.mark.parametrize("url", ["https://bay.test", "http://[::1]:8000/", "http://192.0.2.7:8000/shop"])
def test_an_address_that_can_lead_somewhere_is_taken(folder: Path, url: str) -> None:
    assert parse(GOOD.replace(ADDRESS, f'url = "{url}"\n\n'), folder / "bay.toml", {}).service.url == url


def test_a_stream_that_is_not_there_is_named(folder: Path) -> None:
    (folder / "van.senml.jsonl").unlink()
    (found,) = problems(GOOD, folder)
    assert found.startswith(f"bay.toml:7: devices[0].path: there is no file {folder}/van.senml.jsonl; give")


def test_all_mistakes_are_told_at_once_in_order_of_lines(folder: Path) -> None:
    text = GOOD.replace("speed = 10", "speed = []").replace("127.0.0.1:8000", "", 1).replace("seed", "sed")
    assert [problem.partition(" ")[0] for problem in problems(text, folder)] == ["bay.toml:2:", "bay.toml:8:"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[service]\nurl = \n", "bay.toml:2: Invalid value; write it as TOML 1.0"),
        ("[service\n", "bay.toml:1: Expected ']' at the end of a table declaration; write it as TOML 1.0"),
        ("a = 1\na = 2\n", "bay.toml:2: Cannot overwrite a value; write it as TOML 1.0"),
        ('a = """x', "bay.toml:1: Unterminated string; write it as TOML 1.0"),
    ],
)
def test_a_mistake_of_syntax_is_named_with_its_line(folder: Path, text: str, message: str) -> None:
    assert problems(text, folder) == (message,)


def test_an_empty_file_asks_for_a_device(folder: Path) -> None:
    assert problems("", folder) == (f"bay.toml: devices: missing; {DEVICES_HINT}",)
    assert problems("devices = []", folder) == (f"bay.toml:1: devices: there is none; {DEVICES_HINT}",)
    assert problems("devices = [1]", folder)[0].startswith("bay.toml:1: devices[0]: 1 is no table")


def test_tables_of_the_wrong_kind_are_named(folder: Path) -> None:
    assert problems('service = 1\ndevices = "x"\n', folder) == (
        "bay.toml:1: service: 1 is no table; give a table [service]",
        f'bay.toml:2: devices: "x" is no array of tables; {DEVICES_HINT}',
    )


@pytest.mark.parametrize("bytes_", [None, b"\xff\xfe"])
def test_a_file_that_cannot_be_read_is_named(folder: Path, bytes_: bytes | None) -> None:
    path = folder / "other.toml"
    if bytes_ is not None:
        path.write_bytes(bytes_)
    with pytest.raises(ConfigError, match=r"other\.toml: cannot be read: .*; give a TOML file"):
        load(path, {})


def test_the_token_of_the_environment_goes_first_and_is_never_shown(folder: Path) -> None:
    text = GOOD.replace("[service]", '[service]\ntoken = "of-the-file"')
    assert parse(text, folder / "bay.toml", {}).service.token.get_secret_value() == "of-the-file"
    config = parse(text, folder / "bay.toml", {"FILLMARK_TOKEN": "of-the-environment"})
    assert config.service.token.get_secret_value() == "of-the-environment"
    assert "of-the" not in repr(config)


@pytest.mark.parametrize("token", ["with space", "new\nline", "ümlaut"])
def test_a_token_that_no_header_can_carry_is_refused_without_showing_it(folder: Path, token: str) -> None:
    with pytest.raises(ConfigError) as caught:
        parse(GOOD, folder / "bay.toml", {"FILLMARK_TOKEN": token})
    (problem,) = caught.value.problems
    assert "no HTTP header can carry" in problem
    assert token not in problem


TABLES = [
    AgentConfig, ServiceTable, SpoolTable, UplinkTable, LinkTable, LogTable, RecordedTable, SimulatedTable,
    HidScaleTable, LineScaleTable, MqttTable, TopicTable,
]  # fmt: skip


@pytest.mark.parametrize("table", TABLES)
def test_every_key_says_what_would_do(table: type[BaseModel]) -> None:
    assert table.model_fields
    silent = [name for name, field in table.model_fields.items() if not field.description and name != "driver"]
    assert silent == []


def test_no_table_is_forgotten_above() -> None:
    used = {field.annotation for field in AgentConfig.model_fields.values()}
    assert {table for table in used if isinstance(table, type)} == set(TABLES[1:6])
