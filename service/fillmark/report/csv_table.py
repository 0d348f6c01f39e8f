"""The record as one CSV table (RFC 4180): a row a fact, numbers in SI with their unit and standard uncertainty."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import Any

from fillmark.report import words

Plain = dict[str, Any]
Row = tuple[object, ...]
HEAD = ("section", "subject", "name", "value", "unit", "standard_uncertainty", "time_utc", "text")
UNITS = {"kg": "kg", "pa": "Pa", "k": "K", "s": "s", "m3": "m3", "m": "m"}


def render(record: Plain) -> bytes:
    """The table as UTF-8 with a mark of its encoding, which spreadsheets need."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEAD)
    for row in _rows(record):
        writer.writerow([_cell(value) for value in row])
    return b"\xef\xbb\xbf" + out.getvalue().encode()


def _cell(value: object) -> object:
    """A cell. A text that a spreadsheet would take for a formula is led by an apostrophe; unknown is empty."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) and value.startswith(("=", "+", "-", "@", "\t", "\r")):
        return f"'{value}"
    return value


def _rows(record: Plain) -> Iterator[Row]:
    job_id, charge = record["job"]["id"], record["charge"]
    yield from _numbers("job", job_id, {**record["job"], **record["record"]})
    yield from _numbers("particulars", job_id, record["particulars"])
    yield from _numbers("circuit", job_id, record["circuit"])
    yield from _numbers("charge", job_id, charge or {})
    yield from _balance(record)
    for row in record["containers"]:
        yield from _numbers("container", row["id"], row)
    for step in record["steps"]:
        yield from _step(step)
    for row in record["stop_points"]:
        yield from _numbers("stop point", row["id"], row)
    for term in record["budget"]["terms"] if charge is not None else ():
        yield "budget", "charged", term["term"], None, "kg", term["u_kg"], None, term["source"]
    for kind in ("notes", "corrections"):
        for row in record[kind]:
            mass_kg = row.get("mass_kg")
            yield kind, job_id, None, mass_kg, None if mass_kg is None else "kg", None, _time(row["at"]), row["text"]
    yield from _numbers("log", job_id, record["log"])


def _time(unix_s: float | None) -> str | None:
    return None if unix_s is None else words.moment(unix_s)


def _balance(record: Plain) -> Iterator[Row]:
    balance = record["balance"]
    rows = [balance["drawn_from_containers"], *balance["parts"], balance["recovered_from_circuit"]]
    for row in rows:
        if row is not None:
            yield "balance", record["job"]["id"], row["what"], row["mass_kg"], "kg", row["u_kg"], None, None
    yield "balance", record["job"]["id"], "left over", balance["left_over_kg"], "kg", None, None, None


def _step(step: Plain) -> Iterator[Row]:
    name = step["step"]
    for moment in ("began_at", "ended_at"):
        yield "step", name, moment, None, None, None, _time(step[moment]), None
    yield "step", name, "verdict", None, None, None, None, "skipped" if step["skipped"] else step["verdict"]
    if step["reason"]:
        yield "step", name, "reason", None, None, None, None, step["reason"]
    for said in ("measured", "proves", "does_not_prove", "next"):
        for text in step[said]:
            yield "step", name, said, None, None, None, None, text
    yield from _numbers("step", name, step["numbers"])


def _numbers(section: str, subject: str, values: Plain) -> Iterator[Row]:
    """Every value of a flat object; a `…_u_kg` stands beside its own number and not in a row of its own."""
    for name, value in values.items():
        if isinstance(value, list) or _is_u(name, values):
            continue
        if name.endswith("_at"):
            yield section, subject, name, None, None, None, _time(value), None
        elif isinstance(value, (int, float)) and not isinstance(value, bool):
            yield section, subject, name, value, UNITS.get(name.rpartition("_")[2]), _u_of(name, values), None, None
        else:
            yield section, subject, name, None, None, None, None, value


def _is_u(name: str, values: Plain) -> bool:
    return "_u_" in name and name.replace("_u_", "_", 1) in values


def _u_of(name: str, values: Plain) -> object:
    stem, _, unit = name.rpartition("_")
    return values.get(f"{stem}_u_{unit}")
