"""Makes the refrigerants ready before they are needed.

Loading CoolProp holds the interpreter for over a second, from whatever thread. So it is done before the first request
is taken, and not when the first job waits for it. The curves of the blends, some tens of milliseconds each, follow
in the background.
"""

from __future__ import annotations

import logging
import threading

from fillmark.refrigerants import facade

_LOG = logging.getLogger(__name__)
TEMPERATURE_K = 270.0


class WarmUp:
    """Loads the library at once and the curves in a thread."""

    def __init__(self) -> None:
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._rest, name="warm-up", daemon=True)

    def begin(self) -> None:
        """Load what takes long; go on in the background."""
        _ready("R-134a")
        self._thread.start()

    def end(self) -> None:
        """Stop after the refrigerant in hand, because a thread must not be inside the library when it is unloaded."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join()

    def _rest(self) -> None:
        for name in facade.names():
            if self._stop.is_set():
                return
            _ready(name)


def _ready(name: str) -> None:
    try:
        facade.get(name).dew_pressure_pa(TEMPERATURE_K)
    except ValueError:
        _LOG.exception("%s cannot be made ready", name)
