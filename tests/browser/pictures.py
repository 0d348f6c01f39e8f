"""Draw the pictures of docs/page anew: `pytest -n 0 tests/browser/pictures.py`. Look at what changed before you commit.

The suite leaves this file out, for its name is no test's. One recorded visit, stopped at five moments; the close call
of its charge on every device and in every theme.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, cast

from PIL import Image
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from tests.browser.conftest import Shop

Look = Callable[..., Page]
Standing = Callable[[str, float], "Shop"]
FOLDER = Path(__file__).parents[2] / "docs" / "page"
VISIT = "refrigerated-van-whole-job"
BEGAN_S = 1_790_000_000.0
EVACUATION_S, HOLD_S, CALL_S, PERFORMANCE_S, ENDED_S = (BEGAN_S + s for s in (2713.0, 4703.0, 5189.4, 5440.0, 5459.0))
DEVICES = {"phone": (390, 844), "tablet": (1024, 768), "1080p": (1920, 1080)}
THEMES = ("light", "dark", "sun")
COLOURS = 96
# Timers stand still at a word, so that no number grows old while pictures are taken.
TIMERS = """
const every = window.setInterval;
window.setInterval = (work, ms) => every(() => window.still || work(), ms);
"""


def keep(page: Page, name: str) -> None:
    """One picture, in few colours."""
    drawn = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    seen = sorted(drawn.getcolors(drawn.width * drawn.height) or (), reverse=True)[:COLOURS]
    palette = Image.new("P", (1, 1))
    palette.putpalette([part for _, colour in seen for part in cast("tuple[int, ...]", colour)])
    FOLDER.mkdir(exist_ok=True)
    drawn.quantize(palette=palette, dither=Image.Dither.NONE).save(FOLDER / f"{name}.png", optimize=True)


def stand_still(page: Page) -> Page:
    expect(page.locator("html")).to_have_attribute("data-link", "live")
    page.evaluate("window.still = true")
    return page


def dress(page: Page, device: str, theme: str) -> None:
    width, height = DEVICES[device]
    page.evaluate("theme => document.documentElement.dataset.theme = theme", theme)
    page.set_viewport_size({"width": width, "height": height})
    page.evaluate("() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")


def test_close_call(look: Look, standing: Standing) -> None:
    shop = standing(VISIT, CALL_S)
    page = look(shop.url, script=TIMERS, reduced_motion="reduce")
    expect(page.locator("html")).to_have_attribute("data-call", "critical")
    stand_still(page)
    for device in DEVICES:
        for theme in THEMES:
            dress(page, device, theme)
            keep(page, f"call-{device}-{theme}")
    dress(page, "phone", "light")
    page.locator("#boards [data-to=act]").click()
    keep(page, "do-phone-light")


def step(look: Look, shop: Shop, name: str, device: str, theme: str) -> None:
    page = look(shop.url, script=TIMERS)
    expect(page.locator("#stage-digits")).not_to_have_text("–")
    dress(stand_still(page), device, theme)
    keep(page, name)


def test_evacuation(look: Look, standing: Standing) -> None:
    step(look, standing(VISIT, EVACUATION_S), "evacuation-tablet-light", "tablet", "light")


def test_hold(look: Look, standing: Standing) -> None:
    step(look, standing(VISIT, HOLD_S), "hold-phone-dark", "phone", "dark")


def test_performance(look: Look, standing: Standing) -> None:
    step(look, standing(VISIT, PERFORMANCE_S), "performance-1080p-dark", "1080p", "dark")


def test_record(look: Look, standing: Standing) -> None:
    shop = standing(VISIT, ENDED_S)
    page = look(shop.url, script=TIMERS)
    expect(page.locator("#job")).to_be_visible()
    shop.act("bay-1.1", "job.close")
    expect(page.locator("html")).to_have_attribute("data-board", "record")
    dress(stand_still(page), "tablet", "light")
    keep(page, "record-tablet-light")


def test_opening_form(look: Look) -> None:
    page = look(script=TIMERS)
    filled = {"refrigerant": "R-134a", "charge_min": "700", "charge_max": "740", "cans": "1", "can_net": "900"}
    for name, text in {**filled, "length": "1.5", "bore": "4.8"}.items():
        page.locator(f"#open-form [name={name}]").fill(text)
    expect(page.locator("#open-plan")).to_contain_text("C1")
    dress(stand_still(page), "tablet", "light")
    keep(page, "open-tablet-light")
