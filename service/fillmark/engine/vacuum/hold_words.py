"""The sentences of a vacuum hold. Short, for a technician; every number is one that the result carries."""

from __future__ import annotations

from fillmark.engine.quantity import Quantity, duration_text, pressure_text
from fillmark.engine.report import Finding
from fillmark.engine.vacuum.hold_types import Doubt, Hold, HoldSetup, Verdict

NOT_UNDER_PRESSURE = "It does not prove that seals hold against pressure from inside: vacuum pulls many of them shut."
NOT_A_GRADE = "It is no grade in grams per year: here air comes in at 1 bar, in use refrigerant goes out at many."
NOT_ONLY_CIRCUIT = "Hose, gauge fitting and valve cores were under test as well."
DRY = (
    "Evacuate on, with the circuit and the oil warm and the pump's gas ballast open. Then hold again.",
    "If it comes back, break the vacuum with dry nitrogen and evacuate again; renew the drier.",
)
FADES = "Do not charge before a hold excludes the leak: vapour gets less with each evacuation, a leak does not."
SEEK = (
    "Do not charge. Shut the hose off at the circuit and hold again: if the rise is gone, the hose leaked.",
    "Then search the circuit with dry nitrogen and a leak detector or foam.",
)


def finding(hold: Hold, setup: HoldSetup) -> Finding:
    """The sentences that belong to a result."""
    proves, not_proved, then = _said(hold, setup)
    return Finding(
        measured=_measured(hold),
        proves=proves,
        does_not_prove=(*not_proved, _reach(hold)),
        next=(*then, *_longer(hold)),
    )


def _measured(hold: Hold) -> tuple[str, ...]:
    risen = pressure_text(hold.rise_pa)
    lines = [
        f"In {duration_text(hold.duration_s)} the pressure went from {hold.start_pa:.4g} Pa by {risen}.",
        f"Temperature alone explains {pressure_text(hold.thermal_rise_pa)} of it.",
    ]
    if hold.q_pa_m3_s is None:
        lines.append("The volume is unknown, so the rise is no leak rate: enter the volume of the circuit and hoses.")
    return tuple(lines)


def _reach(hold: Hold) -> str:
    size = _size(hold.detection_limit_pa_s, hold.limit_q_pa_m3_s)
    return f"With this gauge and {duration_text(hold.duration_s)}, no leak below {size} would have shown."


def _said(hold: Hold, setup: HoldSetup) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    match hold.verdict:
        case Verdict.TIGHT:
            size = _size(hold.sure_limit_pa_s, hold.sure_q_pa_m3_s)
            proves = (f"No leak above {size}: it would have been seen 95 times in 100.",)
            dry = "It does not prove that the oil holds no water: what left little room to rise may still be in it."
            return proves, (NOT_UNDER_PRESSURE, dry), ("Go on: charge, or hold longer to exclude smaller leaks.",)
        case Verdict.LEAKING:
            proves = (f"Gas comes in at a steady {_rate(hold)}; vapour from inside would have faded more.",)
            return proves, ("It does not prove that the circuit is dry.", NOT_ONLY_CIRCUIT, NOT_A_GRADE), SEEK
        case Verdict.WET | Verdict.WET_LEAK_OPEN:
            return _wet(hold)
        case Verdict.BOTH:
            proves = (f"Vapour comes from inside and fades; besides, gas comes in at a steady {_rate(hold)}.",)
            return proves, (NOT_ONLY_CIRCUIT, NOT_A_GRADE), (*SEEK, *DRY)
        case Verdict.UNDECIDED:
            return _undecided(hold, setup)


def _wet(hold: Hold) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    proves = ["The rise fades as vapour from inside does: moisture, or refrigerant coming out of the oil."]
    if hold.ceiling_pa is not None and hold.start_pa + hold.rise_pa.value > 1.3 * hold.ceiling_pa:
        proves.append(f"It passed {hold.ceiling_pa:.4g} Pa, where water at the coldest part stops: not water alone.")
    bound = hold.leak_bound_pa_s
    volume = None if hold.limit_q_pa_m3_s is None else hold.limit_q_pa_m3_s / hold.detection_limit_pa_s
    size = _size(bound, None if volume is None else volume * bound)
    which = "It does not prove which vapour it is."
    if hold.verdict is Verdict.WET_LEAK_OPEN:
        return tuple(proves), (which, f"A leak of up to {size} may hide behind the vapour."), (*DRY, FADES)
    return tuple(proves), (which, f"It does not exclude a leak of up to {size} beside it."), DRY


def _undecided(hold: Hold, setup: HoldSetup) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    nothing = "Neither that the circuit is tight nor that it leaks."
    match hold.doubt:
        case Doubt.AT_WATER_SATURATION:
            proves = ("The pressure stands still where water at the coldest part has its saturation pressure.",)
            still = "It does not prove that the circuit is dry: wet vapour at its ceiling stands as still as nothing."
            return proves, (still,), ("Pump deeper, or warm the coldest part: if the pressure follows, it is water.",)
        case Doubt.LEAK_OR_MOISTURE:
            proves = ("The pressure truly rose.",)
            same = "It does not prove whether a leak or vapour did it: so far both would make the same curve."
            longer = "Do not charge. Pump again for a while and hold longer: vapour fades, a leak does not."
            return proves, (same,), (longer,)
        case Doubt.BELOW_SCALE:
            zero = "The gauge stood at zero and cannot show less, so a rise may be hidden."
            return (), (nothing, zero), ("Check the gauge's zero, or use a finer absolute gauge.",)
        case _:
            wanted = f"It cannot show the rise that counts here, {setup.wanted_pa_s * 600.0:.3g} Pa in 10 min."
            return (), (nothing, wanted), ("Use a finer absolute gauge.",)


def _longer(hold: Hold) -> tuple[str, ...]:
    if hold.wanted_hold_s is None:
        return ()
    return (f"With this gauge hold for {duration_text(hold.wanted_hold_s)} or more.",)


def _rate(hold: Hold) -> str:
    rate = f"{pressure_text(hold.slope_pa_s.scaled(600.0))} in 10 min"
    return rate if hold.q_pa_m3_s is None else f"{rate}, {_pm(hold.q_pa_m3_s)} Pa·m³/s"


def _size(slope_pa_s: float, q_pa_m3_s: float | None) -> str:
    rate = f"{slope_pa_s * 600.0:.2g} Pa in 10 min"
    return rate if q_pa_m3_s is None else f"{q_pa_m3_s:.2g} Pa·m³/s ({rate})"


def _pm(quantity: Quantity) -> str:
    return f"{quantity.value:.3g} ± {2.0 * quantity.u:.2g}"
