"""What a record says, in what order: blocks that page and PDF draw each in its own way, so that both say the same."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from fillmark.report import words
from fillmark.report.plot import Chart, chart_of
from fillmark.stock.view import OVERDRAWN_KG

Plain = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and values, one below the other."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table. `widths` are shares of the page's width; columns named in `right` are set flush right."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[int, ...]
    right: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Points:
    """Sentences under a heading."""

    heading: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph; `strong` stands out."""

    text: str
    strong: bool = False


Block = Facts | Table | Points | Text | Chart


@dataclass(frozen=True, slots=True)
class Section:
    """A headed part of the record."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Content:
    """The whole record."""

    title: str
    subtitle: str
    sections: tuple[Section, ...]
    foot: str


def content_of(record: Plain) -> Content:
    """A record's document as blocks."""
    job = record["job"]
    sections = (
        _outcome(record),
        _people(record),
        _circuit(record),
        *(_step(step) for step in record["steps"]),
        _balance(record),
        _stop_points(record),
        _doubt(record),
        _remarks(record),
        _proof(record),
    )
    return Content(
        title=f"Record of job {job['id']}",
        subtitle=f"{record['circuit']['refrigerant']}, {words.moment(job['opened_at'])}",
        sections=tuple(section for section in sections if section.blocks),
        foot=f"{job['id']} · hash {record['log']['hash'][:16]}…",
    )


def _outcome(record: Plain) -> Section:
    charge, job = record["charge"], record["job"]
    blocks: list[Block] = []
    if not record["record"]["complete"]:
        blocks.append(Text("The job is not closed: this record is not final.", strong=True))
    if charge is None:
        blocks.append(Text("Nothing was charged in this job.", strong=True))
    else:
        blocks.append(
            Text(f"{words.mass(charge['charged_kg'], charge['charged_u_kg'])} in the circuit (k = 2)", strong=True)
        )
        window = f"{words.mass(charge['charge_min_kg'])} to {words.mass(charge['charge_max_kg'])}"
        blocks.append(
            Facts((
                ("Label's window", window),
                ("Aim", words.mass(charge["aim_kg"])),
                ("Chance that it lies in the window", words.share(charge["probability_in_window"])),
            ))
        )  # fmt: skip
    rows = tuple((words.named(step["step"]), _verdict(step), _span(step)) for step in record["steps"])
    if rows:
        blocks.append(Table("Steps", ("Step", "Verdict", "Duration"), rows, (30, 45, 25)))
    times = f"{words.moment(job['opened_at'])} to {words.moment(job['closed_at'])}"
    blocks.append(Facts((("Job", f"{job['id']} in {job['bay']}"), ("From, to", times))))
    blocks += [chart_of(figure) for figure in record["figures"]]
    if record["hints"]:
        blocks.append(Points("Not shown by this job", tuple(record["hints"])))
    return Section("Outcome", tuple(blocks))


def _verdict(step: Plain) -> str:
    if step["skipped"]:
        return "skipped"
    return words.named(step["verdict"]) if step["verdict"] else "no verdict"


def _span(step: Plain) -> str:
    if step["skipped"]:
        return "–"
    return "not ended" if step["ended_at"] is None else words.lasting(step["ended_at"] - step["began_at"])


def _people(record: Plain) -> Section:
    given = record["particulars"]
    rows = tuple((label, words.entered(given[name])) for name, label in words.PARTICULARS.items())
    said = (
        "As entered by the user; Fillmark has not checked it. Regulation (EU) 2024/573, Article 7(1), asks for such "
        "particulars where Article 5(1) wants equipment checked for leaks. What applies here, the user must know."
    )
    return Section("Who, and to what", (Facts(rows), Text(said)))


def _circuit(record: Plain) -> Section:
    circuit, means = record["circuit"], record["means"]
    scale, hose, gauge = means["scale"], means["hose"], means["vacuum_gauge"]
    volume = words.UNKNOWN if circuit["volume_m3"] is None else f"{circuit['volume_m3'] * 1e3:.3g} L"
    rows = [
        (
            "Refrigerant",
            f"{circuit['refrigerant']}, safety class {circuit['safety_class']} ({circuit['safety_source']})",
        ),
        ("Kind of circuit", circuit["kind"]),
        ("Label's charge", f"{words.mass(circuit['charge_min_kg'])} to {words.mass(circuit['charge_max_kg'])}"),
        ("Internal volume", volume),
        ("Scale", _scale(scale)),
        ("Hose", words.UNKNOWN if hose is None else f"{hose['length_m']:g} m, bore {hose['bore_m'] * 1e3:.3g} mm"),
    ]
    if gauge is not None:
        rows.append(("Vacuum gauge", f"{gauge['kind']}, step {gauge['resolution_pa']:g} Pa"))
    if circuit["line_extra_kg"]:
        rows.append(("Of it for the line set", words.mass(circuit["line_extra_kg"])))
    return Section("Circuit and instruments", (Facts(tuple(rows)),))


def _scale(scale: Plain) -> str:
    place = ", out of sun and draught" if scale["sheltered"] else ""
    most = words.UNKNOWN if scale["capacity_kg"] is None else f"{scale['capacity_kg']:g} kg"
    return f"step {words.mass(scale['resolution_kg'])}, class {scale['class'] or words.UNKNOWN}, capacity {most}{place}"


_SAID = (("Measured", "measured"), ("Proves", "proves"), ("Does not prove", "does_not_prove"), ("Next", "next"))


def _step(step: Plain) -> Section:
    title = f"Step: {words.named(step['step'])}"
    when = Facts((
        ("From, to", f"{words.moment(step['began_at'])} to {words.moment(step['ended_at'])}"),
        ("Verdict", _verdict(step)),
        *((("Reason given", step["reason"]),) if step["reason"] else ()),
    ))  # fmt: skip
    said = tuple(Points(heading, tuple(step[name])) for heading, name in _SAID if step[name])
    charts = tuple(chart_of(figure) for figure in step["figures"])
    numbers = [(words.quantity(name), words.plain(value)) for name, value in step["numbers"].items()]
    half = (len(numbers) + 1) // 2
    pairs = tuple((*left, *right) for left, right in zip_longest(numbers[:half], numbers[half:], fillvalue=("", "")))
    head = ("Name", "Value", "Name", "Value")
    table = (Table("Numbers (u: standard uncertainty)", head, pairs, (30, 18, 30, 18), frozenset({1, 3})),)
    return Section(title, (when, *said, *charts, *(table if numbers else ())))


def _balance(record: Plain) -> Section:
    balance = record["balance"]
    drawn = balance["drawn_from_containers"]
    rows = [(row["what"], words.mass(row["mass_kg"], row["u_kg"])) for row in balance["parts"] if row["mass_kg"] != 0.0]
    blocks: list[Block] = []
    if record["charge"] is not None:
        rows = [(drawn["what"], words.mass(drawn["mass_kg"], drawn["u_kg"])), *rows]
        rows.append(("left over (doubt of hose and scale)", words.mass(balance["left_over_kg"])))
        blocks.append(
            Table(
                "Where the refrigerant went", ("Refrigerant", "Mass (± k = 2)"), tuple(rows), (60, 40), frozenset({1})
            )
        )
    out = balance["recovered_from_circuit"]
    if out is not None:
        blocks.append(Facts((("Out of the circuit, recovered", words.mass(out["mass_kg"], out["u_kg"])),)))
    if record["containers"]:
        blocks.append(_containers(record))
    oil = record["oil"]
    if oil is not None:
        to_add = words.UNKNOWN if oil["to_add_m3"] is None else f"{oil['to_add_m3'] * 1e6:.0f} mL"
        text = f"{oil['removed_m3'] * 1e6:.0f} mL removed, {oil['added_m3'] * 1e6:.0f} mL added, still to add {to_add}"
        blocks.append(Facts((("Oil", text),)))
    return Section("Refrigerant in and out", tuple(blocks))


def _containers(record: Plain) -> Table:
    rows = tuple(
        (
            row["id"],
            "recovery" if row["use"] == "recovery" else f"charge, {row['draw']}",
            row["refrigerant"] or "not stated",
            words.mass(row["drawn_kg"], row["drawn_u_kg"]),
            _content(row["contents_kg"] if row["use"] == "recovery" else row["left_kg"]),
        )
        for row in record["containers"]
    )
    head = ("Container", "Use", "Refrigerant", "Drawn or taken in", "In it at the end")
    return Table("Containers (± k = 2)", head, rows, (20, 20, 18, 24, 18), frozenset({3, 4}))


def _content(kg: float | None) -> str:
    """What is in a container. Less than nothing is said as what it means: another container stood there unseen."""
    if kg is not None and kg < -OVERDRAWN_KG:
        return f"none: {words.mass(-kg)} more left it than it held"
    return words.mass(kg)


def _stop_points(record: Plain) -> Section:
    rows = tuple(
        (
            words.clock(row["raised_at"]),
            f"{words.named(row['id'])}{' (' + row['subject'] + ')' if row['subject'] else ''}, {row['severity']}",
            row["text"],
            words.clock(row["over_at"]),
            "put aside: " + row["put_aside"]
            if row["put_aside"]
            else "not acknowledged"
            if row["acknowledged_at"] is None
            else words.clock(row["acknowledged_at"]),
        )
        for row in record["stop_points"]
    )
    if not rows:
        return Section("Stop points", (Text("None was raised."),))
    head = ("Raised", "Stop point", "What it said", "Over", "Acknowledged")
    caption = f"Times of day in UTC, {words.day(record['job']['opened_at'])}"
    return Section("Stop points", (Table(caption, head, rows, (11, 20, 39, 11, 19)),))


def _doubt(record: Plain) -> Section:
    if record["charge"] is None:
        blocks: tuple[Block, ...] = ()
    else:
        budget = record["budget"]
        rows = tuple(
            (term["term"] + (" (assumed)" if term["assumed"] else ""), words.mass(term["u_kg"]), term["source"])
            for term in budget["terms"]
        )
        dof = "many" if budget["effective_dof"] is None else f"{budget['effective_dof']:.0f}"
        rows = (
            *rows,
            (
                "combined, standard (k = 1)",
                words.mass(budget["combined_u_kg"]),
                f"{dof} degrees of freedom; {budget['source']}",
            ),
        )
        head = ("Term", "Standard uncertainty", "From")
        blocks = (Table("Uncertainty of the mass in the circuit", head, rows, (34, 22, 44), frozenset({1})),)
    assumed = (Points("Taken for granted", tuple(record["assumed"])),) if record["assumed"] else ()
    return Section("How sure", (*blocks, *assumed))


def _remarks(record: Plain) -> Section:
    lines = [f"{words.moment(note['at'])}: {note['text']}" for note in record["notes"]]
    if record["job"]["note"]:
        lines.insert(0, record["job"]["note"])
    made = [f"{words.moment(row['at'])}: {_by_hand(row)}" for row in record["corrections"]]
    blocks = [Points(*pair) for pair in (("Notes", tuple(lines)), ("Corrections by hand", tuple(made))) if pair[1]]
    return Section("Notes and corrections", tuple(blocks))


def _by_hand(row: Plain) -> str:
    mass_kg = row["mass_kg"]
    return row["text"] if mass_kg is None else f"{mass_kg * 1e3:+.1f} g, {row['text']}"


def _proof(record: Plain) -> Section:
    log, made = record["log"], record["record"]
    digits = " ".join(log["hash"][index : index + 8] for index in range(0, len(log["hash"]), 8))
    return Section(
        "The log behind this record",
        (
            Facts((
                ("Lines of the log", str(log["lines"])),
                ("Hash over the log", digits),
                ("Reckoned as", log["algorithm"]),
                ("Software", f"Fillmark {made['fillmark']}, CoolProp {made['coolprop']}, record's form {made['form']}"),
            )),
            Points("The hash proves", tuple(log["proves"])),
            Points("It does not prove", tuple(log["does_not_prove"])),
            Text(
                "An aid, not a certificate: the label, the service manual and local codes decide. All times are UTC. "
                "Every ± has the coverage factor k = 2."
            ),
        ),
    )  # fmt: skip
