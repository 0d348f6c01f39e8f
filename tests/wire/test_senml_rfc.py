"""The examples of RFC 8428 (August 2018) section 5.1, read as transcribed in two open implementations' own tests."""

from __future__ import annotations

import json

import pytest

from fillmark.wire import senml
from fillmark.wire.senml import Record

NOW_S = 1_790_000_000.0
ONE_WIRE = "urn:dev:ow:10e2073a01080063"

MEASUREMENTS = """[
  {"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
  {"u":"lon","v":24.30621}, {"u":"lat","v":60.07965},
  {"t":60,"v":20.3}, {"u":"lon","t":60,"v":24.30622}, {"u":"lat","t":60,"v":60.07965},
  {"t":120,"v":20.7}, {"u":"lon","t":120,"v":24.30623}, {"u":"lat","t":120,"v":60.07966},
  {"u":"%EL","t":150,"v":98},
  {"t":180,"v":21.2}, {"u":"lon","t":180,"v":24.30628}, {"u":"lat","t":180,"v":60.07967}
]"""

RESOLVED = """[
  {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067464e+09,"v":20},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067464e+09,"v":24.30621},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067464e+09,"v":60.07965},
  {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067524e+09,"v":20.3},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067524e+09,"v":24.30622},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067524e+09,"v":60.07965},
  {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067584e+09,"v":20.7},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067584e+09,"v":24.30623},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067584e+09,"v":60.07966},
  {"n":"urn:dev:ow:10e2073a01080063","u":"%EL","t":1.320067614e+09,"v":98},
  {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067644e+09,"v":21.2},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067644e+09,"v":24.30628},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067644e+09,"v":60.07967}
]"""


def decode(text: str) -> tuple[Record, ...]:
    return senml.decode(text, now_s=NOW_S)


def test_section_5_1_1_single_datapoint_is_taken_now() -> None:
    assert decode('[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]') == (
        Record(ONE_WIRE, NOW_S, unit="Cel", value=23.1),
    )


def test_section_5_1_2_base_name_precedes_the_names() -> None:
    pack = '[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},{"n":"current","u":"A","v":1.2}]'
    assert decode(pack) == (
        Record(f"{ONE_WIRE}:voltage", NOW_S, unit="V", value=120.1),
        Record(f"{ONE_WIRE}:current", NOW_S, unit="A", value=1.2),
    )


def test_section_5_1_2_base_time_and_base_unit_with_an_older_version() -> None:
    pack = """[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,
      "n":"voltage","u":"V","v":120.1},
      {"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},{"n":"current","t":-3,"v":1.4},
      {"n":"current","t":-2,"v":1.5},{"n":"current","t":-1,"v":1.6},{"n":"current","v":1.7}]"""
    voltage, *currents = decode(pack)
    assert voltage == Record("urn:dev:ow:10e2073a0108006:voltage", 1276020076.001, unit="V", value=120.1)
    assert [record.value for record in currents] == [1.2, 1.3, 1.4, 1.5, 1.6, 1.7]
    assert {(record.name, record.unit) for record in currents} == {("urn:dev:ow:10e2073a0108006:current", "A")}
    expected_s = [1276020076.001 - back for back in (5, 4, 3, 2, 1, 0)]
    assert [record.time_s for record in currents] == pytest.approx(expected_s, abs=1e-6, rel=0.0)


def test_sections_5_1_3_and_5_1_4_the_measurements_resolve_to_the_resolved_data() -> None:
    assert decode(MEASUREMENTS) == decode(RESOLVED)


def test_section_5_1_4_encoding_writes_the_resolved_data() -> None:
    assert json.loads(senml.encode(decode(MEASUREMENTS))) == json.loads(RESOLVED)


def test_section_5_1_5_multiple_data_types() -> None:
    pack = """[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},
      {"n":"label","vs":"Machine Room"},{"n":"open","vb":false},{"n":"nfc-reader","vd":"aGkgCg"}]"""
    assert decode(pack) == (
        Record(f"{ONE_WIRE}:temp", NOW_S, unit="Cel", value=23.1),
        Record(f"{ONE_WIRE}:label", NOW_S, text="Machine Room"),
        Record(f"{ONE_WIRE}:open", NOW_S, flag=False),
        Record(f"{ONE_WIRE}:nfc-reader", NOW_S, data="aGkgCg"),
    )


def test_section_5_1_6_a_later_base_name_keeps_the_earlier_base_time() -> None:
    pack = """[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},
      {"n":"humidity","u":"%RH","v":30},
      {"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},{"n":"humidity","u":"%RH","v":67}]"""
    assert decode(pack) == (
        Record("2001:db8::2/temperature", 1320078429.0, unit="Cel", value=25.2),
        Record("2001:db8::2/humidity", 1320078429.0, unit="%RH", value=30.0),
        Record("2001:db8::1/temperature", 1320078429.0, unit="Cel", value=12.3),
        Record("2001:db8::1/humidity", 1320078429.0, unit="%RH", value=67.0),
    )


def test_section_5_1_7_a_record_of_base_fields_alone_is_no_reading() -> None:
    pack = """[{"bn":"urn:dev:ow:10e2073a01080063:"},{"n":"temp","u":"Cel","v":23.1},
      {"n":"heat","u":"/","v":1},{"n":"fan","u":"/","v":0}]"""
    assert decode(pack) == (
        Record(f"{ONE_WIRE}:temp", NOW_S, unit="Cel", value=23.1),
        Record(f"{ONE_WIRE}:heat", NOW_S, unit="/", value=1.0),
        Record(f"{ONE_WIRE}:fan", NOW_S, unit="/", value=0.0),
    )


def test_section_5_1_7_two_lights_go_off_a_tenth_of_a_second_later() -> None:
    pack = """[{"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":0.5},{"n":"2001:db8::4","v":0.5},
      {"n":"2001:db8::3","t":0.1,"v":0},{"n":"2001:db8::4","t":0.1,"v":0}]"""
    assert [(r.name, r.time_s, r.unit, r.value) for r in decode(pack)] == [
        ("2001:db8::3", 1320078429.0, "/", 0.5),
        ("2001:db8::4", 1320078429.0, "/", 0.5),
        ("2001:db8::3", 1320078429.1, "/", 0.0),
        ("2001:db8::4", 1320078429.1, "/", 0.0),
    ]
