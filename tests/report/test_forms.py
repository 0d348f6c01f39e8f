"""Page, PDF, CSV and label: each says what the document says, can be read, and is harmed by no text."""

from __future__ import annotations

import csv
import io
import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from fillmark.report import csv_table, html, pdf
from fillmark.report.document import record_of
from fillmark.report.forms import FORMS, LABEL, NothingChargedError
from fillmark.report.plot import COLOURS

if TYPE_CHECKING:
    from tests.report.conftest import Charge, RecordFor

DEMOS = ["refrigerated-van-whole-job", "minibus-can-swap", "mower-hold-wet"]
PDFTOPPM = shutil.which("pdftoppm")
needs_poppler = pytest.mark.skipif(
    PDFTOPPM is None, reason="poppler-utils is not installed; PDFs are drawn where it is"
)


class Reader(HTMLParser):
    """Tags with their attributes, and all text."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.open: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in {"meta", "rect", "polyline"}:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in {"rect", "polyline"}:
            assert self.open.pop() == tag

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)

    def handle_data(self, data: str) -> None:
        self.text += data


def read(page: bytes) -> Reader:
    reader = Reader()
    reader.feed(page.decode())
    assert reader.open == []
    return reader


@pytest.mark.parametrize("name", DEMOS)
def test_the_page_is_whole_by_itself_and_readable_without_eyes(name: str, record_for: RecordFor) -> None:
    record = record_for(name)
    reader = read(html.render(record))
    used = {attribute for _, attributes in reader.tags for attribute in attributes}
    assert used & {"src", "href", "onclick", "onload"} == set()
    tags = [tag for tag, _ in reader.tags]
    assert "script" not in tags
    assert (tags.count("h1"), tags.count("main")) == (1, 1)
    assert dict(reader.tags)["html"]["lang"] == "en"
    tables = tags.count("table")
    assert tables
    assert tags.count("caption") == tables
    assert all(attributes["scope"] == "col" for tag, attributes in reader.tags if tag == "th")
    figures = [attributes for tag, attributes in reader.tags if tag == "svg"]
    assert len(figures) == sum(len(step["figures"]) for step in record["steps"])
    assert all(one["role"] == "img" and len(one["aria-label"]) > 40 for one in figures)


@pytest.mark.parametrize("name", DEMOS)
def test_the_page_says_what_the_document_says(name: str, record_for: RecordFor) -> None:
    record = record_for(name)
    text = read(html.render(record)).text
    assert record["log"]["hash"] in text.replace(" ", "")
    for step in record["steps"]:
        for said in ("measured", "proves", "does_not_prove", "next"):
            assert all(line in text for line in step[said])
    assert text.count("not entered") >= 10
    for row in record["stop_points"]:
        assert row["text"] in text
    for line in (*record["log"]["proves"], *record["log"]["does_not_prove"], *record["assumed"], *record["hints"]):
        assert line in text


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2 (its glossary)."""
    parts = [int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("style", [style for style in COLOURS if style != "grid"])
def test_text_and_curves_stand_out_from_paper(style: str) -> None:
    # WCAG 2.2 success criterion 1.4.3: at least 4.5 to 1 for text.
    assert 1.05 / (luminance(COLOURS[style]) + 0.05) >= 4.5


HOSTILE = {"company": "<script>alert(1)</script>", "equipment": "=1+1", "technician": "Łukasz Иванов 王"}


def test_no_text_of_a_user_becomes_markup_or_a_formula(charge: Charge) -> None:
    record = record_of(charge((20.0, {"type": "particulars", **HOSTILE})))
    reader = read(html.render(record))
    assert "script" not in [tag for tag, _ in reader.tags]
    assert HOSTILE["company"] in reader.text
    rows = list(csv.DictReader(io.StringIO(csv_table.render(record).decode("utf-8-sig"))))
    told = {row["name"]: row["text"] for row in rows if row["section"] == "particulars"}
    assert told["equipment"] == "'=1+1"
    assert told["technician"] == HOSTILE["technician"]


def test_the_table_carries_numbers_with_unit_and_uncertainty(record_for: RecordFor) -> None:
    record = record_for("minibus-can-swap")
    rows = list(csv.DictReader(io.StringIO(csv_table.render(record).decode("utf-8-sig"))))
    charged = next(row for row in rows if (row["section"], row["name"]) == ("charge", "charged_kg"))
    assert float(charged["value"]) == record["charge"]["charged_kg"]
    assert (charged["unit"], float(charged["standard_uncertainty"])) == ("kg", record["charge"]["charged_u_kg"])
    assert [row["text"] for row in rows if row["name"] == "hash"] == [record["log"]["hash"]]
    raised = [row for row in rows if row["section"] == "stop point" and row["name"] == "raised_at"]
    assert len(raised) == len(record["stop_points"])
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d UTC", row["time_utc"]) for row in raised)


def test_a_container_from_which_more_left_than_it_held_is_said_to_be_one(record_for: RecordFor) -> None:
    # The cans were swapped and nobody said so: C1 gave some 220 g more than it had.
    text = read(html.render(record_for("telehandler-silent-swap"))).text
    assert "more left it than it held" in text
    assert "-22" not in text


def pages(body: bytes, folder: Path) -> list[bytes]:
    """The pages as pictures in grey, as pdftoppm draws them (PGM: a head, then a byte a dot)."""
    path = folder / "x.pdf"
    path.write_bytes(body)
    done = subprocess.run(
        [str(PDFTOPPM), "-gray", "-r", "40", str(path), str(folder / "page")],
        capture_output=True,
        check=True,
        timeout=60,
    )
    assert done.stderr == b""
    return [picture.read_bytes().split(b"\n", 3)[3] for picture in sorted(folder.glob("page*.pgm"))]


def text_of(body: bytes) -> str:
    done = subprocess.run(["pdftotext", "-layout", "-", "-"], input=body, capture_output=True, check=True, timeout=60)
    return done.stdout.decode()


@needs_poppler
@pytest.mark.parametrize("name", DEMOS)
def test_the_pdf_draws_every_page_and_says_the_same(name: str, record_for: RecordFor, tmp_path: Path) -> None:
    record = record_for(name)
    body = pdf.render(record)
    drawn = pages(body, tmp_path)
    assert 2 <= len(drawn) <= 8
    assert all(0.004 < sum(dot < 128 for dot in page) / len(page) < 0.3 for page in drawn)
    text = text_of(body)
    flat = re.sub(r"\s+", " ", text)
    assert record["log"]["hash"] in "".join(text.split())
    for step in record["steps"]:
        assert all(re.sub(r"\s+", "", line) in "".join(text.split()) for line in step["measured"])
    assert flat.count("not entered") >= 10
    assert f"page {len(drawn)} of {len(drawn)}" in flat


@needs_poppler
def test_the_pdf_prints_names_of_many_tongues_and_a_box_for_what_it_cannot(charge: Charge) -> None:
    text = text_of(pdf.render(record_of(charge((20.0, {"type": "particulars", **HOSTILE})))))
    assert "Łukasz Иванов □" in text


def test_the_pdf_has_the_same_bytes_each_time(record_for: RecordFor) -> None:
    record = record_for("mower-hold-wet")
    assert pdf.render(record) == pdf.render(record)


TRULY_CHARGED_G = 900.1
"""Of the stream minibus-can-swap, as its truth beside it says."""


@needs_poppler
def test_the_label_says_date_refrigerant_and_mass(record_for: RecordFor, tmp_path: Path) -> None:
    body = LABEL.render(record_for("minibus-can-swap"))
    assert len(pages(body, tmp_path)) == 1
    text = text_of(body)
    for said in ("R-134a (A1)", "2026-09-21", "880 to 920 g", "By: not entered"):
        assert said in text
    charged = re.search(r"([\d.]+) ± ([\d.]+) g charged", text)
    assert charged is not None
    assert abs(float(charged[1]) - TRULY_CHARGED_G) <= float(charged[2]) <= 10.0


@needs_poppler
def test_the_label_of_an_open_job_says_that_it_is_not_the_last_word(charge: Charge) -> None:
    record = record_of(charge()[:-1])
    text = text_of(LABEL.render(record))
    assert "so far 340" in text
    assert "bay-1.1 (job not closed)" in text
    whole = text_of(LABEL.render(record_of(charge())))
    assert "so far" not in whole
    assert "not closed" not in whole


def test_without_a_charge_there_is_no_label(record_for: RecordFor) -> None:
    with pytest.raises(NothingChargedError, match=r"nothing was charged in bay-1\.1"):
        LABEL.render(record_for("mower-hold-wet"))


@pytest.mark.parametrize("suffix", FORMS)
def test_an_open_job_says_so_in_every_form(suffix: str, charge: Charge) -> None:
    record = record_of(charge()[:-1])
    body = FORMS[suffix].render(record)
    if suffix == "pdf":
        assert body != FORMS[suffix].render({**record, "record": {**record["record"], "complete": True}})
    else:
        wanted = {"json": '"complete": false', "html": "not closed", "csv": "complete,,,,,no"}[suffix]
        assert wanted in body.decode()
