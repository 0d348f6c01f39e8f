"""The sentences of a pull-down."""

from __future__ import annotations

from dataclasses import replace

from fillmark.engine.quantity import duration_text, pressure_text
from fillmark.engine.report import Finding
from fillmark.engine.vacuum.pump_types import Cause, PumpDown, PumpSetup
from fillmark.engine.vacuum.water import saturation_pressure_pa

NEAR_WATER_SHARE = 0.2
"""As 3 K of the coldest part are worth. Common practice, no source."""

SAID = {
    Cause.WET: "So much vapour comes, at a pressure that water has: moisture is boiling off.",
    Cause.OUTGASSING: "It sinks far slower than the pump draws: vapour comes from inside, and fades.",
    Cause.LEAKING: "It stands above any pressure that water has here, and does not sink: gas comes in.",
    Cause.PUMP_LIMIT: "The pump stands at the ultimate pressure that was declared for it: it cannot go deeper.",
    Cause.HOSE_THIN: "The hose takes more than half of the pump's speed at this pressure.",
    Cause.PUMP_SMALL: "The hose is wide enough; the pump's own speed sets the pace.",
    Cause.SLOWER_THAN_DECLARED: "It goes at less than half the speed that pump and hose would give.",
}
THEN = {
    Cause.WET: "Go on pumping with gas ballast and warm the coldest part; renew the drier.",
    Cause.OUTGASSING: "Go on pumping, then hold.",
    Cause.LEAKING: "Look for a fitting, a cap or a valve that is open; then search with dry nitrogen.",
    Cause.PUMP_LIMIT: "Change the pump's oil, shut its gas ballast, or use a deeper pump.",
    Cause.HOSE_THIN: "Use a shorter or wider hose, and pump on both sides without valve cores.",
    Cause.PUMP_SMALL: "Give it time, or use a larger pump.",
    Cause.SLOWER_THAN_DECLARED: "Look for a valve that is not open, a valve core, a kinked hose, or worn pump oil.",
}
OPEN = {
    Cause.WET: "moisture",
    Cause.LEAKING: "a leak",
    Cause.PUMP_LIMIT: "the pump's own limit",
    Cause.HOSE_THIN: "a thin hose",
    Cause.PUMP_SMALL: "a small pump",
    Cause.OUTGASSING: "outgassing",
    Cause.SLOWER_THAN_DECLARED: "a restriction",
}


def told(result: PumpDown, setup: PumpSetup) -> PumpDown:
    """The result with its sentences."""
    return replace(
        result,
        finding=Finding(
            measured=_measured(result),
            proves=tuple(SAID[c] for c in result.causes if c in SAID) + _boiling(result, setup),
            does_not_prove=_left_open(result, setup),
            next=tuple(THEN[c] for c in result.causes if c in THEN) + _next(result),
        ),
    )


def _measured(result: PumpDown) -> tuple[str, ...]:
    state = "It has levelled off" if result.plateau_reached else "It is going"
    toward = f"at {pressure_text(result.plateau_pa)}"
    lines = [
        f"The gauge shows {result.pressure_pa:.4g} Pa after {duration_text(result.duration_s)}.",
        f"{state} {toward if result.plateau_reached else 'towards' + toward[2:]}.",
    ]
    if result.effective_speed_m3_s is not None:
        speed = result.effective_speed_m3_s.scaled(1e3)
        lines.append(f"The circuit is drawn on with {speed.value:.2g} ± {2.0 * speed.u:.1g} l/s.")
    return tuple(lines)


def _boiling(result: PumpDown, setup: PumpSetup) -> tuple[str, ...]:
    if result.boils is None or result.boils_below_k is None or setup.coldest_k is None:
        return ()
    cold, boiling = setup.coldest_k - 273.15, result.boils_below_k - 273.15
    if result.boils:
        return (f"Water boils at {boiling:.1f} °C now, the coldest part has {cold:.1f} °C: moisture does boil off.",)
    return (f"Water boils at {boiling:.1f} °C now, the coldest part has {cold:.1f} °C: moisture there stays.",)


def _left_open(result: PumpDown, setup: PumpSetup) -> tuple[str, ...]:
    lines = ["A low pressure beside a running pump does not prove that the circuit is tight: that takes a hold."]
    if result.open_causes:
        lines.append(f"It leaves open: {', '.join(OPEN[c] for c in result.open_causes)}.")
    if Cause.WET in result.open_causes and setup.coldest_k is not None:
        ceiling = saturation_pressure_pa(setup.coldest_k)
        if abs(result.plateau_pa.value - ceiling) <= NEAR_WATER_SHARE * ceiling:
            lines.append(f"Water at the coldest part has {ceiling:.3g} Pa, near this level: it may be moisture.")
    if result.boils is None:
        lines.append("Whether moisture boils off is unknown: give the temperature of the coldest part.")
    return tuple(lines)


def _next(result: PumpDown) -> tuple[str, ...]:
    if result.to_target_s == 0.0:
        return ("The target is reached: go on as long as planned, then shut the valve and hold.",)
    if result.target_in_reach is False:
        return ("The target will not be reached like this: shut the valve and hold, to see what comes in.",)
    if result.to_target_s is not None:
        away = duration_text(result.to_target_s)
        return (f"Pump on; the target is about {away} away; half or twice of that may be true.",)
    if result.plateau_reached:
        return ("It stands: shut the valve and hold, to see whether anything comes in.",)
    return ("Pump on, then shut the valve and hold.",)
