"""Every configuration in docs/devices.md is one that the agent takes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from fillmark_agent.config_file import parse
from fillmark_agent.edge.outcome import FaultKind

PAGE = (Path(__file__).parents[2] / "docs" / "devices.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)
DRIVERS = re.findall(r'driver = "([^"]+)"', PAGE)


@pytest.mark.parametrize(("text", "driver"), list(zip(BLOCKS, DRIVERS, strict=True)))
def test_a_configuration_of_the_page_is_good(text: str, driver: str) -> None:
    (device,) = parse(text, Path("bay.toml"), {}).devices
    assert device.driver == driver


def test_every_fault_is_explained() -> None:
    missing = [kind for kind in FaultKind if f"`{kind}`" not in PAGE]
    assert missing == []
