"""What can hurt, and what to do about it. Sentences of our own; the facts are common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

EVERY: tuple[str, ...] = (
    (
        "Follow the container's label, the vehicle maker's instructions and local law; this work is for trained and, "
        "where the law says so, certified people."
    ),
    "Liquid and fast-escaping vapour freeze skin and eyes at once: wear goggles and insulating gloves.",
    (
        "The vapour displaces air, mostly without a warning smell: work where the air moves, never in a closed "
        "pit, and leave the room if much escapes."
    ),
    (
        "Container, hoses and circuit are under pressure: never heat a container with a flame, never fill one past its "
        "mark, open valves slowly."
    ),
    "Recover refrigerant with equipment made for it: none is let out into the air on purpose.",
)
"""For every refrigerant."""

_FLAMMABLE: tuple[str, ...] = (
    (
        "Keep flames, sparks, hot surfaces and smoking away, and use only recovery machines, pumps and leak detectors "
        "made for flammable refrigerants."
    ),
    "The vapour is heavier than air and collects in pits and drains: move air through before and during the work.",
    "Never pressurise the circuit with air or oxygen: mixed with them the refrigerant can burn or explode.",
)

BY_CLASS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "A1": ("Not flammable in air at room temperature, yet not harmless: the other cautions hold.",),
        "A2L": ("Class A2L: it burns, though slowly and hard to light.", *_FLAMMABLE),
        "A2": ("Class A2: flammable; a spark can be enough.", *_FLAMMABLE),
        "A3": (
            "Class A3: highly flammable; a small spark lights it and a few hundred grams can wreck a room.",
            *_FLAMMABLE,
            "Clear static charge and unplug whatever may spark before a connection is opened.",
        ),
    }
)
"""By the safety class of ASHRAE 34."""

FLUORINATED: tuple[str, ...] = (
    "A flame or a glowing surface turns the vapour into corrosive, poisonous fumes: leave and let the air clear.",
)
"""For refrigerants that contain fluorine."""

ZEOTROPIC: tuple[str, ...] = (
    (
        "This blend separates: draw it from the container as liquid and let it evaporate on the way in, or what is "
        "charged is not the blend. Liquid must not reach a running compressor."
    ),
)
"""For blends of the 400 series."""

BY_REFRIGERANT: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "R-744": (
            (
                "Very high pressure: 64 bar at 25 °C standing still and well above 100 bar running. Use only "
                "hoses, gauges and fittings rated for R-744, never those of another refrigerant."
            ),
            (
                "Above 31 °C there is no liquid: the pressure of a warm container no longer tells what is left "
                "in it, and liquid shut in between two valves bursts the line."
            ),
            (
                "Carbon dioxide is harmful to breathe long before it displaces the air: at some per cent it "
                "causes headache and breathlessness, above ten it kills. Have a CO2 alarm."
            ),
            (
                "Below about 5 bar absolute it freezes to dry ice, which blocks hoses and valves; a blocked "
                "line can clear suddenly."
            ),
        ),
        "R-410A": ("High pressure, about 1.6 times that of R-22: use hoses, gauges and containers rated for it.",),
        "R-32": ("High pressure, about 1.6 times that of R-22: use hoses, gauges and containers rated for it.",),
        "R-454B": ("High pressure, about 1.5 times that of R-22: use hoses, gauges and containers rated for it.",),
        "R-1234yf": ("Never mix it with R-134a or fill it into a circuit that is not labelled for it.",),
        "R-134a": ("Never mix it with R-1234yf or fill it into a circuit that is not labelled for it.",),
        "R-152a": ("Only for circuits that were built for it: never a replacement in one labelled for R-134a.",),
        "R-290": ("Only for circuits that were built for it: never a replacement in one labelled for another.",),
    }
)
"""For one refrigerant."""
