"""Contrast, names, roles and sizes: axe-core's judgement, and what it cannot judge."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from tests.browser.conftest import Scale, Shop

Look = Callable[..., Page]
Standing = Callable[[str, float], "Shop"]
CHARGE, CALL_S = "harvester-clean", 1_790_000_312.4  # the call to close its valve holds
FRAME_PX, BESIDE_PX = 12, 900  # width from which a board stands beside the live numbers
SERIOUS = {"serious", "critical"}
SIZES = {"phone": (390, 844), "tablet": (1024, 768), "upright tablet": (768, 1024), "1080p": (1920, 1080)}
SCROLLS_PX = "one => getComputedStyle(one).overflowX === 'visible' ? 0 : one.scrollWidth - one.clientWidth"
CONTRAST = ("color-contrast",)
# The mass is dimmed when it is old. On a slow machine that comes and goes between two pictures of a page.
WIDTHS = """() => Object.fromEntries(["stale", "fresh"].map(age => {
  const mass = document.getElementById("mass");
  const was = mass.dataset.stale;
  mass.dataset.stale = String(age === "stale");
  const { width } = mass.querySelector(".figure").getBoundingClientRect();
  const { right } = mass.querySelector(".digits").getBoundingClientRect();
  mass.dataset.stale = was;
  return [age, [width, right]];
}))"""
BOARDS = ("act", "stops", "read", "record")


def findings(page: Page, *rules: str) -> list[str]:
    """What axe-core finds: by all its rules, or by some."""
    options = {"runOnly": list(rules)} if rules else None
    found: list[dict[str, Any]] = Axe().run(page, options=options).response["violations"]
    return [
        f"{rule['id']}: {node['target']} {node['failureSummary']}"
        for rule in found
        if rule["impact"] in SERIOUS
        for node in rule["nodes"]
    ]


def test_axe_finds_nothing_serious(look: Look, shop: Shop, scale: Scale) -> None:
    page = look(settings='{"theme":"light"}')
    expect(page.locator("#open-form")).to_be_visible()
    assert findings(page) == []
    job = shop.open()
    shop.act(job, "engine", running=True)
    shop.act(job, "valve", valve="high", open=True)  # a critical stop point
    expect(page.locator("html")).to_have_attribute("data-call", "critical")
    for board in BOARDS:
        page.locator(f"#boards [data-to={board}]").click()
        assert findings(page) == [], board
    for theme in ("dark", "sun"):  # a theme changes colours and nothing else: the rule about them is asked again
        page.evaluate("theme => document.documentElement.dataset.theme = theme", theme)
        for board in BOARDS:
            page.locator(f"#boards [data-to={board}]").click()
            assert findings(page, *CONTRAST) == [], (theme, board)
    page.locator("#settings-button").click()
    assert findings(page) == []
    del scale


def test_axe_knows_a_fault_when_it_sees_one(look: Look) -> None:
    page = look()
    expect(page.locator("#open-form")).to_be_visible()
    page.evaluate("document.getElementById('open-hint').style.color = '#ccc'")
    assert any("color-contrast" in one for one in findings(page, *CONTRAST))


def digit_height(page: Page, selector: str) -> float:
    """Rows of the picture that hold ink of the main number, px: what the eye sees, whatever the font."""
    grey = Image.open(io.BytesIO(page.locator(selector).screenshot())).convert("L")
    ground = grey.getpixel((0, 0))
    ink = grey.point(lambda tone: 255 if abs(tone - ground) > 100 else 0).getbbox()
    assert ink is not None
    return float(ink[3] - ink[1])


# An eighth of the height of the screen is what the eye needs from two metres. Common practice, no source.
@pytest.mark.parametrize(("unit", "language"), [("g", "de"), ("kg", "en"), ("oz", "en"), ("lb", "de")])
def test_the_close_call_is_tall_and_whole_on_every_screen(
    look: Look, standing: Standing, unit: str, language: str
) -> None:
    chosen = {"mass": unit, "language": language, "theme": "light"}
    page = look(standing(CHARGE, CALL_S).url, settings=json.dumps(chosen))
    expect(page.locator("html")).to_have_attribute("data-call", "critical")
    for name, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        page.evaluate("() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
        widths = page.evaluate(WIDTHS)
        assert widths["fresh"] == widths["stale"], f"{name}: a number that goes stale and comes back moves"
        assert digit_height(page, "#mass-digits") >= 0.12 * height, name
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, f"{name} scrolls sideways"
        assert page.locator("main").evaluate(SCROLLS_PX) <= 0, f"{name}: what lies under the head scrolls sideways"
        floor = page.locator("#boards").bounding_box() if width < BESIDE_PX else None
        lowest = page.locator("#beside").evaluate("one => one.getBoundingClientRect().bottom")
        assert lowest <= (height - FRAME_PX if floor is None else floor["y"]), f"{name} is cut"


def test_it_speaks_german_and_says_which_language_it_is(look: Look, shop: Shop) -> None:
    shop.open()
    page = look(locale="de-DE")
    expect(page.locator("html")).to_have_attribute("lang", "de")
    expect(page.locator("#call-word")).to_have_text("Kein Behälter auf der Waage")
    expect(page.locator("#boards [data-to=record]")).to_have_text("Protokoll")
    assert findings(page) == []
    english = look(locale="de-DE", settings='{"language":"en"}')
    expect(english.locator("#call-word")).to_have_text("No container on the scale")


@pytest.mark.usefixtures("scale")
def test_the_call_moves_for_those_who_want_it_and_stands_for_the_others(look: Look, shop: Shop) -> None:
    job = shop.open()
    shop.act(job, "engine", running=True)
    shop.act(job, "valve", valve="high", open=True)
    for wish, moves in (("no-preference", True), ("reduce", False)):
        page = look(reduced_motion=wish)
        call = page.locator("#call[data-severity=critical]")
        expect(call).to_be_visible()
        assert (call.evaluate("one => one.getAnimations().length") > 0) is moves
        expect(page.locator("#frame")).to_have_css("border-top-width", "12px")  # the frame calls without moving


@pytest.mark.usefixtures("scale")
def test_a_call_is_spoken_sounded_and_felt(look: Look, shop: Shop) -> None:
    heard = """
    window.felt = []; navigator.vibrate = pattern => felt.push(pattern);
    window.tones = 0; const made = AudioContext.prototype.createOscillator;
    AudioContext.prototype.createOscillator = function () { window.tones += 1; return made.call(this); };
    """
    job = shop.open()
    page = look(script=heard, width=390, height=844, has_touch=True)
    page.locator("#sound").tap()
    expect(page.locator("#sound")).to_have_text("Sound is on")
    page.evaluate("window.tones = 0; window.felt = []")
    shop.act(job, "engine", running=True)
    shop.act(job, "valve", valve="high", open=True)
    expect(page.locator("#say-now")).to_contain_text("Shut the high-side valve now")
    page.wait_for_function("() => window.tones >= 4 && window.felt.length >= 1")
