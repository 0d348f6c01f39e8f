"""The forms of a record, by suffix: what they are called on the network and how each is made from the document."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from fillmark.report import csv_table, html

Plain = dict[str, Any]


class NothingChargedError(ValueError):
    """A job in which nothing was charged has no label."""


@dataclass(frozen=True, slots=True)
class Form:
    """One form: its media type, and how it is made."""

    media_type: str
    render: Callable[[Plain], bytes]


def as_json(record: Plain) -> bytes:
    """The document itself, one member a line, so that two records can be compared by eye."""
    return (json.dumps(record, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def as_pdf(record: Plain) -> bytes:
    """The PDF; its library is loaded here and not before."""
    from fillmark.report import pdf  # noqa: PLC0415 - a quarter of a second

    return pdf.render(record)


def as_label(record: Plain) -> bytes:
    """The label; see `label.render`."""
    from fillmark.report import label  # noqa: PLC0415 - a quarter of a second

    return label.render(record)


FORMS: Mapping[str, Form] = {
    "json": Form("application/json", as_json),
    "html": Form("text/html", html.render),
    "pdf": Form("application/pdf", as_pdf),
    "csv": Form("text/csv", csv_table.render),
}
LABEL = Form("application/pdf", as_label)
