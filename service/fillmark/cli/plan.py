"""`fillmark plan`: which container gives how much, without a service."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated

import typer

from fillmark.cli.fail import fail

if TYPE_CHECKING:
    from fillmark.engine.plan import Stock
    from fillmark.wire.quantities import Dimension

UNITS = ("g", "kg", "oz", "lb")
LARGEST_KG = 2000.0
MASS_HELP = 'a mass with its unit, such as "520 g", "18 oz" or "1.15 lb"'


def plan(
    can: Annotated[list[str], typer.Option(help="NAME=NET or NAME=NET/HEEL, in the order of use; repeat it.")],
    charge_min: Annotated[str, typer.Option("--min", help=f"Smallest charge on the label: {MASS_HELP}.")],
    charge_max: Annotated[str, typer.Option("--max", help="Largest charge on the label.")],
    aim: Annotated[str, typer.Option(help="min, mid, max, or a mass within the window.")] = "mid",
    refrigerant: Annotated[str, typer.Option(help="Needed for the hose: R-134a, R-1234yf, R-744 …")] = "",
    hose: Annotated[str, typer.Option(help='Length and bore, such as "1.8 m x 4.8 mm".')] = "",
    draw: Annotated[str, typer.Option(help="vapour (can upright) or liquid (can inverted).")] = "vapour",
    temperature: Annotated[str, typer.Option(help="Temperature at the hose.")] = "20 °C",
    unit: Annotated[str, typer.Option(help="Unit to read back: g, kg, oz or lb.")] = "g",
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object, masses in kg.")] = False,
) -> None:
    """Plan a charge: all of one container, then so much of the next, and what stays in it."""
    from fillmark.engine.plan import plan as make_plan
    from fillmark.wire import quantities as q

    try:
        aim_kg = _aim_kg(charge_min, charge_max, aim)
        hose_kg, hose_note = _hose_kg(refrigerant, hose, draw, temperature)
        made = make_plan(aim_kg, hose_kg, [_stock(text) for text in can])
        if unit not in UNITS:
            raise ValueError(f"--unit {unit}: no such choice; give one of {', '.join(UNITS)}")  # noqa: TRY301 - as the others
    except ValueError as error:
        fail(str(error))
    if as_json:
        from fillmark.api.documents import plan_document

        document = {**plan_document(made, aim_kg), "hose_kg": round(hose_kg, 6)}
        typer.echo(json.dumps(document, ensure_ascii=False, indent=2))
        return

    def say(mass_kg: float) -> str:
        return f"{q.show(mass_kg, q.MASS, unit):.4g} {unit}"

    typer.echo(f"Into the circuit {say(aim_kg)}{hose_note.format(say(hose_kg))}: draw {say(made.need_kg)} in all.")
    for draft in made.drafts:
        share = "all of it, " if draft.all_of_it else ""
        typer.echo(f"  {draft.container}: {share}{say(draft.take_kg)}; {say(draft.left_kg)} stay in it")
    if made.short_kg > 0.0:
        typer.echo(f"  {say(made.short_kg)} are missing: have another container ready before you begin.")


def _aim_kg(charge_min: str, charge_max: str, aim: str) -> float:
    least, most = _mass_kg("--min", charge_min), _mass_kg("--max", charge_max)
    if least > most:
        raise ValueError("--min is above --max; give the smaller mass of the label as --min")
    named = {"min": least, "mid": (least + most) / 2.0, "max": most}
    wanted = named[aim] if aim in named else _mass_kg("--aim", aim)
    if not least <= wanted <= most:
        raise ValueError(f"the aim {aim} lies outside the window; give min, mid, max or a mass within it")
    return wanted


def _hose_kg(refrigerant: str, hose: str, draw: str, temperature: str) -> tuple[float, str]:
    if draw not in {"vapour", "liquid"}:
        raise ValueError(f"--draw {draw}: no such choice; give vapour or liquid")
    if not hose:
        return 0.0, " (hose not given, its content not counted)"
    if not refrigerant:
        raise ValueError("--hose needs --refrigerant, because its content depends on it")
    from fillmark.engine.hold_up import liquid_hold_up, vapour_hold_up
    from fillmark.engine.setup import Hose
    from fillmark.refrigerants import facade
    from fillmark.wire import quantities as q

    length, cross, bore = hose.replace("×", "x").partition("x")
    if not cross:
        raise ValueError(f'--hose {hose!r} is not a length and a bore; write it as "1.8 m x 4.8 mm"')
    size = Hose(_given("--hose", length, q.LENGTH), _given("--hose", bore, q.LENGTH))
    kelvin = _given("--temperature", temperature, q.TEMPERATURE)
    try:
        fluid = facade.get(refrigerant)
    except facade.UnknownRefrigerantError as error:
        raise ValueError(f"--refrigerant: {error}") from error
    try:
        if draw == "liquid":
            held = liquid_hold_up(size, fluid, kelvin)
        else:
            held = vapour_hold_up(size, fluid, kelvin, fluid.dew_pressure_pa(kelvin))
    except ValueError as error:
        raise ValueError(f"--temperature {temperature}: {error}") from error
    if held is None:
        raise ValueError(
            f"--temperature {temperature}: {fluid.name} is not {draw} in a hose then; give the temperature of the shop"
        )
    return held.mass_kg, f" and {{}} of {draw} in the hose"


def _stock(text: str) -> Stock:
    from fillmark.engine.plan import Stock

    name, equals, masses = text.partition("=")
    net, _, heel = masses.partition("/")
    if not name or not equals:
        raise ValueError(f'--can {text!r} is not NAME=NET; write it as C1="340 g"')
    net_kg, heel_kg = _mass_kg(f"--can {name}", net), _mass_kg(f"--can {name}", heel) if heel else 0.0
    if heel_kg > net_kg:
        raise ValueError(f"--can {name}: the heel {heel} is more than the net mass {net}; write NAME=NET/HEEL")
    return Stock(name, net_kg, heel_kg)


def _mass_kg(option: str, text: str) -> float:
    from fillmark.wire import quantities as q

    return _given(option, text, q.MASS, LARGEST_KG)


def _given(option: str, text: str, dimension: Dimension, most: float | None = None) -> float:
    """A quantity that an option gives. The error names the option."""
    from fillmark.wire import quantities as q

    try:
        return q.parse(text, dimension, least=0.0, most=most)
    except ValueError as error:
        raise ValueError(f"{option}: {error}") from error
