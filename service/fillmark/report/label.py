"""The label to stick under the bonnet: date, refrigerant, mass, and where its record is to be found."""

from __future__ import annotations

from typing import Any

from fillmark.report import words
from fillmark.report.forms import NothingChargedError
from fillmark.report.pdf import FAMILY, Sheet, printable

WIDTH_MM, HEIGHT_MM = 90.0, 42.0
MARGIN_MM = 3.5


def lines_of(record: dict[str, Any]) -> tuple[str, ...]:
    """What the label says, line by line; the first is the refrigerant, the second the mass.

    Raises:
        NothingChargedError: nothing was charged.
    """
    charge, given, circuit = record["charge"], record["particulars"], record["circuit"]
    if charge is None:
        raise NothingChargedError(f"nothing was charged in {record['job']['id']}: there is no label to print")
    ended = charge["ended_at"] or record["job"]["closed_at"]
    so_far = "" if record["record"]["complete"] else "so far "
    window = f"{charge['charge_min_kg'] * 1e3:.0f} to {charge['charge_max_kg'] * 1e3:.0f} g"
    by = ", ".join(given[name] for name in ("technician", "company") if given[name]) or words.NOT_ENTERED
    return (
        f"{circuit['refrigerant']} ({circuit['safety_class']})",
        f"{so_far}{words.mass(charge['charged_kg'], charge['charged_u_kg'])} charged",
        f"Date: {words.UNKNOWN if ended is None else words.day(ended)} (UTC)   Label's window: {window}",
        f"By: {by}",
        f"Equipment: {words.entered(given['equipment_id'] or given['equipment'])}",
        f"Record {record['job']['id']}{' (job not closed)' if so_far else ''}, hash {record['log']['hash'][:16]}",
    )


def render(record: dict[str, Any]) -> bytes:
    """The label as a PDF of its own size.

    Raises:
        NothingChargedError: nothing was charged.
    """
    lines = lines_of(record)
    sheet = Sheet(record["job"]["last_entry_at"], (HEIGHT_MM, WIDTH_MM))
    sheet.set_title(f"Label of job {record['job']['id']}")
    sheet.set_auto_page_break(False)
    sheet.set_margins(MARGIN_MM, MARGIN_MM)
    sheet.add_page(orientation="L")
    sheet.set_line_width(0.5)
    sheet.rect(1.5, 1.5, WIDTH_MM - 3.0, HEIGHT_MM - 3.0)
    sizes = (17.0, 15.0, 8.5, 8.5, 8.5, 7.5)
    top = MARGIN_MM
    for line, size in zip(lines, sizes, strict=True):
        sheet.set_font(FAMILY, "B" if size > 10.0 else "", size)
        text = printable(line)
        while sheet.get_string_width(text) > WIDTH_MM - 2.0 * MARGIN_MM and len(text) > 1:
            text = text.removesuffix("…")[:-1] + "…"
        sheet.set_xy(MARGIN_MM, top)
        sheet.cell(0, size * 0.42, text)
        top += size * 0.47 + 0.6
    return bytes(sheet.output())
