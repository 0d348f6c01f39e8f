"""The record as a PDF of A4 pages, made by fpdf2. Its fonts come with Fillmark and hold Latin, Greek and Cyrillic.

A sign that the fonts do not have is printed as a box; the page and the JSON carry it as it is. The date that a PDF
states is the log's last entry, so that the same log gives the same bytes.
"""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

from fpdf import FPDF
from fpdf.enums import TableBordersLayout, XPos, YPos
from fpdf.fonts import FontFace

from fillmark.report.content import Block, Content, Facts, Points, Section, Table, Text, content_of
from fillmark.report.plot import COLOURS, CURVE_WIDTH, DASHES, WIDTHS, WINDOW, Box, Chart, Label, Line, Shape, draw

FONTS = Path(__file__).parent / "fonts"
FAMILY = "DejaVu"
MARGIN_MM = 16.0
LINE_MM = 4.6
PT_MM = 25.4 / 72.0
FIGURE_MM = 46.0
BOX = "□"


class Sheet(FPDF):
    """A PDF with our fonts, whose bytes depend on nothing but what is drawn."""

    def __init__(self, created_s: float, size_mm: tuple[float, float] | str = "A4") -> None:
        super().__init__(format=size_mm)
        for style, name in (("", "DejaVuSansCondensed"), ("B", "DejaVuSansCondensed-Bold")):
            self.add_font(FAMILY, style, FONTS / f"{name}.ttf")
        self.set_creation_date(datetime.fromtimestamp(int(created_s), UTC))
        self.set_producer("Fillmark")
        self.set_lang("en")
        self.foot = ""

    def footer(self) -> None:
        """Job, hash and number at the end of every page."""
        if not self.foot:
            return
        self.set_y(-11.0)
        self.set_font(FAMILY, "", 7.5)
        self.set_text_color(80)
        self.cell(0, 4, f"{self.foot} · page {self.page_no()} of {{nb}}", align="C")
        self.set_text_color(0)


def render(record: dict[str, Any]) -> bytes:
    """The record as a PDF."""
    content = content_of(record)
    sheet = Sheet(record["job"]["last_entry_at"])
    sheet.set_title(content.title)
    sheet.foot = printable(content.foot)
    sheet.set_margins(MARGIN_MM, MARGIN_MM)
    sheet.set_auto_page_break(True, MARGIN_MM)
    sheet.add_page()
    _title(sheet, content)
    for section in content.sections:
        _section(sheet, section)
    return bytes(sheet.output())


@cache
def _glyphs() -> frozenset[int]:
    from fontTools.ttLib import TTFont  # noqa: PLC0415 - a tenth of a second, where a PDF is made

    known = [set(TTFont(path).getBestCmap()) for path in sorted(FONTS.glob("*.ttf"))]
    return frozenset(set.intersection(*known))


def printable(text: str) -> str:
    """The text with a box for every sign that the fonts do not have."""
    return "".join(sign if ord(sign) in _glyphs() or sign == "\n" else BOX for sign in text)


def _write(sheet: FPDF, text: str, size: float, style: str = "", indent_mm: float = 0.0) -> None:
    sheet.set_font(FAMILY, style, size)
    sheet.set_x(sheet.l_margin + indent_mm)
    height = LINE_MM * size / 9.5
    sheet.multi_cell(0, height, printable(text), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)


def _title(sheet: FPDF, content: Content) -> None:
    _write(sheet, content.title, 17, "B")
    _write(sheet, content.subtitle, 10)


def _section(sheet: FPDF, section: Section) -> None:
    if sheet.will_page_break(26.0):
        sheet.add_page()
    sheet.ln(3.0)
    _write(sheet, section.title, 12, "B")
    sheet.set_line_width(0.4)
    sheet.line(sheet.l_margin, sheet.y + 0.3, sheet.w - sheet.r_margin, sheet.y + 0.3)
    sheet.ln(1.6)
    for block in section.blocks:
        _block(sheet, block)


def _block(sheet: FPDF, block: Block) -> None:
    match block:
        case Facts():
            _rows(sheet, Table("", (), block.rows, (32, 68)))
        case Table():
            _write(sheet, block.caption, 9, "B")
            _rows(sheet, block)
        case Points():
            _points(sheet, block)
        case Text():
            _write(sheet, block.text, 13 if block.strong else 9, "B" if block.strong else "")
        case Chart():
            _figure(sheet, block)
    sheet.ln(1.2)


def _points(sheet: FPDF, points: Points) -> None:
    if sheet.will_page_break(2.0 * LINE_MM):
        sheet.add_page()
    _write(sheet, points.heading, 9, "B")
    for line in points.lines:
        sheet.set_font(FAMILY, "", 9)
        sheet.set_x(sheet.l_margin + 1.0)
        sheet.cell(3.0, LINE_MM, "•")
        sheet.multi_cell(0, LINE_MM, printable(line), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)


def _rows(sheet: FPDF, block: Table) -> None:
    sheet.set_font(FAMILY, "", 8.5)
    sheet.set_draw_color(150)
    sheet.set_line_width(0.15)
    aligns = tuple("RIGHT" if index in block.right else "LEFT" for index in range(len(block.widths)))
    with sheet.table(
        col_widths=block.widths,
        text_align=aligns,
        borders_layout=TableBordersLayout.HORIZONTAL_LINES if block.head else TableBordersLayout.NONE,
        line_height=4.2,
        padding=(0.5, 1.0, 0.5, 0.0),
        first_row_as_headings=bool(block.head),
        headings_style=FontFace(emphasis="BOLD"),
    ) as table:
        for row in (*((block.head,) if block.head else ()), *block.rows):
            cells = table.row()
            for text in row:
                cells.cell(printable(text))
    sheet.set_draw_color(0)


def _figure(sheet: FPDF, chart: Chart) -> None:
    width = sheet.epw
    if sheet.will_page_break(FIGURE_MM + LINE_MM):
        sheet.add_page()
    _write(sheet, chart.title, 9, "B")
    left, top = sheet.l_margin, sheet.y
    for shape in draw(chart, width, FIGURE_MM, 7.5 * PT_MM):
        _shape(sheet, shape, left, top)
    sheet.set_draw_color(0)
    sheet.set_text_color(0)
    sheet.set_dash_pattern()
    sheet.set_xy(left, top + FIGURE_MM)


def _shape(sheet: FPDF, shape: Shape, left: float, top: float) -> None:
    match shape:
        case Box():
            sheet.set_fill_color(WINDOW)
            sheet.rect(left + shape.left, top + shape.top, shape.width, shape.height, style="F")
            sheet.set_fill_color(255)
        case Label():
            sheet.set_font(FAMILY, "", 7.5)
            sheet.set_text_color(COLOURS[shape.style])
            text = printable(shape.text)
            back = {"start": 0.0, "middle": 0.5, "end": 1.0}[shape.anchor] * sheet.get_string_width(text)
            sheet.text(left + shape.at[0] - back, top + shape.at[1], text)
        case Line():
            sheet.set_draw_color(COLOURS[shape.style])
            sheet.set_line_width(WIDTHS.get(shape.style, CURVE_WIDTH) * PT_MM)
            dash = DASHES.get(shape.style)
            sheet.set_dash_pattern(*((0, 0) if dash is None else (dash[0] * PT_MM, dash[1] * PT_MM)))
            sheet.polyline([(left + x, top + y) for x, y in shape.points])
