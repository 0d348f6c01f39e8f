"""Report descriptors, against the package hid-parser, which has its own reading of HID 1.11."""

from __future__ import annotations

import warnings
from collections.abc import Callable

import hid_parser
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillmark_agent.scales.hid_layout import Layout, LayoutError, UsageRange, layout

Describe = Callable[..., bytes]

# HID 1.11, appendix B.2: the mouse of the boot interface (three buttons, five bits of padding, X, Y). From memory.
MOUSE = bytes.fromhex(
    "05010902a1010901a1000509190129031500250195037501810295017505810105010930093115 81257f750895028106c0c0".replace(
        " ", ""
    )
)


def theirs(descriptor: bytes) -> set[tuple[int, int, int, int, int]]:
    """Report, bit, bits, page and first usage of every field, as hid-parser reads them."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", hid_parser.HIDWarning)
        parsed = hid_parser.ReportDescriptor(tuple(descriptor))
    found = set()
    for number in parsed.input_report_ids:
        for item in parsed.get_input_items(number):
            if isinstance(item, hid_parser.VariableItem):
                usage = item.usage
            elif isinstance(item, hid_parser.ArrayItem):
                usage = item.usages[0]
            else:
                continue
            found.add((number or 0, int(item.offset), int(item.size), usage.page, usage.usage))
    return found


def ours(found: Layout) -> set[tuple[int, int, int, int, int]]:
    rows = set()
    for each in found.fields:
        for index in range(each.count if each.variable else 1):
            usage = each.usage(index)
            assert usage is not None
            rows.add((each.report_id, each.offset + index * each.size, each.size, *usage))
    return rows


def test_fields_lie_where_another_parser_finds_them(describe: Describe) -> None:
    narrow = describe(weight="09 40 15 00 26 ff 0f 75 0c 95 01 81 02 75 04 95 01 81 01")
    flags = describe(status="19 71 29 78 15 00 25 01 75 01 95 08 81 02")
    for descriptor in (MOUSE, describe(), describe(number=None), narrow, flags):
        assert ours(layout(descriptor)) == theirs(descriptor)
        assert len(ours(layout(descriptor))) >= 4


def test_the_length_counts_the_number_and_the_padding(describe: Describe) -> None:
    assert layout(describe()).length(3) == 6
    assert layout(describe(number=None)).length(0) == 5
    assert layout(MOUSE).length(0) == 3


def test_signed_values_are_read_as_signed(describe: Describe) -> None:
    scaling = next(f for f in layout(describe()).fields if f.usage(0) == (0x8D, 0x41))
    assert (scaling.logical_min, scaling.logical_max) == (-127, 127)
    assert scaling.values(int.from_bytes(b"\x04\x0b\xff\x34\x19", "little")) == (-1,)


def test_kept_state_comes_back() -> None:
    """HID 1.11, section 6.2.2.7: Push keeps the global items, Pop puts them back."""
    found = layout(bytes.fromhex("058d75089501a40501 7510b40940 8102".replace(" ", "")))
    (field,) = found.fields
    assert (field.size, field.usages) == (8, (UsageRange(0x8D, 0x40, 0x40),))


def test_the_last_usage_serves_the_rest() -> None:
    """HID 1.11, section 6.2.2.8."""
    (field,) = layout(bytes.fromhex("058d09400941750895048102")).fields
    assert [field.usage(index) for index in range(4)] == [(0x8D, 0x40), (0x8D, 0x41), (0x8D, 0x41), (0x8D, 0x41)]


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("058d094075", "cut off"),
        ("b4", "not kept"),
        ("058d29788100", "no beginning"),
        ("058d19782971750895018100", "no beginning"),
        ("058d094077ffffffff97ffffffff8102", "a field of"),
        ("058d0940750197001100008102", "a field of"),
        ("058d0940750896000f8102" * 2, "more than 4096"),
        ("058d09407508950181028501094075089501 8102", "others have none"),
    ],
)
def test_a_descriptor_that_lies_is_an_error(text: str, problem: str) -> None:
    with pytest.raises(LayoutError, match=problem):
        layout(bytes.fromhex(text.replace(" ", "")))


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=200))
def test_nothing_but_a_layout_error_escapes(descriptor: bytes) -> None:
    try:
        found = layout(descriptor)
    except LayoutError:
        return
    for field in found.fields:
        assert field.size <= 32
        assert len(field.values(0)) == field.count
