"""The record as one page: no file beside it, no script, printable, readable by screen readers.

The page is HTML 5 with tables that have captions and headed columns; a figure is inline SVG with its words beside it.
"""

from __future__ import annotations

from html import escape
from typing import Any

from fillmark.report.content import Block, Content, Facts, Points, Section, Table, Text, content_of
from fillmark.report.plot import COLOURS, CURVE_WIDTH, DASHES, WIDTHS, WINDOW, Box, Chart, Label, Line, Shape, draw

_STYLE = """
:root{color-scheme:light}
body{font:15px/1.45 system-ui,sans-serif;color:#1a1a1a;background:#fff}
body{max-width:52rem;margin:1.5rem auto;padding:0 1rem}
h1{font-size:1.6rem;margin:0}
h2{font-size:1.15rem;margin:1.8rem 0 .4rem;border-bottom:2px solid #1a1a1a;break-after:avoid}
h3{font-size:1rem;margin:.8rem 0 .1rem;break-after:avoid}
.strong{font-size:1.3rem;font-weight:700;margin:.5rem 0}
dl{display:grid;grid-template-columns:minmax(9rem,14rem) 1fr;gap:.15rem 1rem;margin:.4rem 0}
dt{color:#444}dd{margin:0;overflow-wrap:anywhere}
table{border-collapse:collapse;width:100%;margin:.6rem 0}
caption{text-align:left;font-weight:600;padding:.2rem 0}
th,td{text-align:left;vertical-align:top;padding:.2rem .5rem .2rem 0;border-bottom:1px solid #bbb}
.right{text-align:right;font-variant-numeric:tabular-nums}
.scroll{overflow-x:auto}
ul{margin:.1rem 0;padding-left:1.2rem}
figure{margin:.8rem 0;break-inside:avoid}
svg{width:100%;height:auto}
figcaption{font-weight:600}
footer{margin-top:2rem;border-top:1px solid #bbb;color:#444;font-size:.85rem}
@media print{body{font-size:10pt;margin:0;max-width:none}tr,li{break-inside:avoid}@page{size:A4;margin:16mm}}
"""

WIDTH, HEIGHT, EM = 640.0, 240.0, 11.0


def render(record: dict[str, Any]) -> bytes:
    """The page as UTF-8."""
    content = content_of(record)
    body = "".join(_section(section) for section in content.sections)
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(content.title)}</title><style>{_STYLE}</style></head><body>\n"
        f"{_header(content)}<main>\n{body}</main>\n<footer><p>{escape(content.foot)}</p></footer></body></html>\n"
    ).encode()


def _header(content: Content) -> str:
    return f"<header><h1>{escape(content.title)}</h1><p>{escape(content.subtitle)}</p></header>\n"


def _section(section: Section) -> str:
    return (
        f"<section><h2>{escape(section.title)}</h2>\n{''.join(_block(block) for block in section.blocks)}</section>\n"
    )


def _block(block: Block) -> str:
    match block:
        case Facts():
            rows = "".join(f"<dt>{escape(name)}</dt><dd>{escape(value)}</dd>" for name, value in block.rows)
            return f"<dl>{rows}</dl>\n"
        case Table():
            return _table(block)
        case Points():
            lines = "".join(f"<li>{escape(line)}</li>" for line in block.lines)
            return f"<h3>{escape(block.heading)}</h3><ul>{lines}</ul>\n"
        case Text():
            strong = ' class="strong"' if block.strong else ""
            return f"<p{strong}>{escape(block.text)}</p>\n"
        case Chart():
            return _figure(block)


def _table(table: Table) -> str:
    def cell(tag: str, index: int, text: str, scope: str = "") -> str:
        right = ' class="right"' if index in table.right else ""
        return f"<{tag}{scope}{right}>{escape(text)}</{tag}>"

    head = "".join(cell("th", index, text, ' scope="col"') for index, text in enumerate(table.head))
    rows = "".join(
        f"<tr>{''.join(cell('td', index, text) for index, text in enumerate(row))}</tr>\n" for row in table.rows
    )
    return (
        f'<div class="scroll" tabindex="0" role="group" aria-label="{escape(table.caption)}"><table>'
        f"<caption>{escape(table.caption)}</caption><thead><tr>{head}</tr></thead>\n<tbody>{rows}</tbody></table></div>\n"
    )


def _figure(chart: Chart) -> str:
    shapes = "".join(_shape(shape) for shape in draw(chart, WIDTH, HEIGHT, EM))
    return (
        f"<figure><figcaption>{escape(chart.title)}</figcaption>"
        f'<svg viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img" aria-label="{escape(chart.in_words)}" '
        f'font-family="system-ui,sans-serif" font-size="{EM:g}">{shapes}</svg></figure>\n'
    )


def _shape(shape: Shape) -> str:
    match shape:
        case Box():
            return (
                f'<rect x="{shape.left:.1f}" y="{shape.top:.1f}" width="{shape.width:.1f}" '
                f'height="{shape.height:.1f}" fill="{WINDOW}"/>'
            )
        case Label():
            x, y = shape.at
            place = f'x="{x:.1f}" y="{y:.1f}" text-anchor="{shape.anchor}"'
            return f'<text {place} fill="{COLOURS[shape.style]}">{escape(shape.text)}</text>'
        case Line():
            points = " ".join(f"{x:.1f},{y:.1f}" for x, y in shape.points)
            dash = DASHES.get(shape.style)
            dashed = "" if dash is None else f' stroke-dasharray="{dash[0]:g} {dash[1]:g}"'
            width = WIDTHS.get(shape.style, CURVE_WIDTH)
            return (
                f'<polyline points="{points}" fill="none" stroke="{COLOURS[shape.style]}" '
                f'stroke-width="{width:g}"{dashed}/>'
            )
