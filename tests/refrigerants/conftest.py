from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from CoolProp import CoolProp


@pytest.fixture(scope="session")
def coolprop_state() -> Callable[[str], Any]:
    """A bare CoolProp state, to ask the library past the façade."""

    def make(model: str) -> Any:  # noqa: ANN401  CoolProp has no types
        return CoolProp.AbstractState("HEOS", model)

    return make
