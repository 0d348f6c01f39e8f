"""The only place that imports CoolProp. It does so late, because the import takes over a second.

Traps of CoolProp 8.0.0 that this package keeps away from:

* `saturation_ancillary` is wrong for R-1234yf by up to 25 %. Nothing here calls it.
* The tables of BICUBIC and TTSE return the wrong phase beside saturation, where superheat and subcooling
  live, and SVDSBTL takes bubble for dew in pseudo-pure blends. Everything here uses HEOS.
* `set_reference_state` changes the whole process. Nothing here calls it; `enthalpy` shifts.
* Safety class and GWP in its metadata are out of date. `safety` has its own table.
* The flash of a predefined mixture fails at scattered states above about 2.5 MPa. `trace` goes around that.
"""

from __future__ import annotations

import importlib
import importlib.metadata
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Protocol, cast

PINNED_VERSION = "8.0.0"
"""Dew pressure of R-454C moved 2.8 % from 7.2.0 to 8.0.0, so a result means nothing without the version."""


class WrongLibraryError(ImportError):
    """The CoolProp that runs is not the pinned one."""


class Guesses(Protocol):
    """Start values of a mixture flash: mol/m³, and mole fractions of liquid `x` and vapour `y`."""

    T: float
    p: float
    rhomolar_liq: float
    rhomolar_vap: float
    x: Sequence[float]
    y: Sequence[float]


class State(Protocol):
    """What is used of `CoolProp.AbstractState`. SI units. A failed update raises ValueError.

    Not thread-safe: between an update and the reading of its result nobody else may update.
    """

    def update(self, pair: int, first: float, second: float, /) -> None:
        """Go to the state of two given inputs."""

    def update_with_guesses(self, pair: int, first: float, second: float, guesses: Guesses, /) -> None:
        """The same, from start values."""

    def specify_phase(self, phase: int, /) -> None:
        """Hold all later states to one phase."""

    def T(self) -> float:  # noqa: N802  CoolProp's name
        """Temperature, K."""

    def p(self) -> float:
        """Pressure, Pa."""

    def rhomass(self) -> float:
        """Density, kg/m³."""

    def hmass(self) -> float:
        """Specific enthalpy against the library's own reference, J/kg."""

    def T_critical(self) -> float:  # noqa: N802  CoolProp's name
        """Critical temperature, K."""

    def p_critical(self) -> float:
        """Critical pressure, Pa."""

    def Tmin(self) -> float:  # noqa: N802  CoolProp's name
        """Lowest temperature of the equation, K."""

    def Tmax(self) -> float:  # noqa: N802  CoolProp's name
        """Highest temperature of the equation, K."""

    def pmax(self) -> float:
        """Highest pressure of the equation, Pa."""

    def mole_fractions_liquid(self) -> Sequence[float]:
        """Composition of the liquid."""

    def mole_fractions_vapor(self) -> Sequence[float]:
        """Composition of the vapour."""

    def saturated_liquid_keyed_output(self, key: int, /) -> float:
        """A property of the liquid."""

    def saturated_vapor_keyed_output(self, key: int, /) -> float:
        """A property of the vapour."""


@dataclass(frozen=True, slots=True)
class Codes:
    """CoolProp's numbers for pairs of inputs, phases and outputs."""

    qt: int
    pq: int
    pt: int
    gas: int
    liquid: int
    molar_density: int


# Making a state reads shared tables of the library.
_making = threading.Lock()


@cache
def codes() -> Codes:
    """The numbers of the running CoolProp. Imports it."""
    library = importlib.import_module("CoolProp")
    if library.__version__ != PINNED_VERSION:
        raise WrongLibraryError(
            f"CoolProp {library.__version__} runs, but the properties were checked with {PINNED_VERSION}: "
            f"install CoolProp=={PINNED_VERSION}."
        )
    return Codes(
        qt=library.QT_INPUTS,
        pq=library.PQ_INPUTS,
        pt=library.PT_INPUTS,
        gas=library.iphase_gas,
        liquid=library.iphase_liquid,
        molar_density=library.iDmolar,
    )


def new_state(model: str, phase: int | None = None) -> State:
    """A state of the Helmholtz-energy equations for `model`, held to one phase where `phase` says so."""
    codes()
    with _making:
        state = cast("State", importlib.import_module("CoolProp").AbstractState("HEOS", model))
        if phase is not None:
            state.specify_phase(phase)
    return state


def new_guesses() -> Guesses:
    """Empty start values."""
    return cast("Guesses", importlib.import_module("CoolProp.CoolProp").PyGuessesStructure())


def coolprop_version() -> str:
    """Version of the installed CoolProp, to be recorded with results. Does not import it."""
    return importlib.metadata.version("CoolProp")
