"""Open a job, charge, stop, read the record: with the keyboard alone, and with fingers."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING

from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from tests.browser.conftest import Scale, Shop

Look = Callable[..., Page]
Press = Callable[[str], None]
# The timers of a page, after which an offer or a question is over: 20 times longer, so that a busy machine is in time,
# or a twentieth, so that nobody waits for it.
SLOW = "const wait = setTimeout; window.setTimeout = (work, ms) => wait(work, ms * 20);"
FAST = SLOW.replace("*", "/")
SIZE_ONCE_VISIBLE = """css => {
  const box = document.querySelector(css).getBoundingClientRect();
  return box.width > 0 && [box.width, box.height];
}"""
LABEL = {"refrigerant": "R-134a", "charge_min": "15", "charge_max": "60", "cans": "1", "can_net": "340"}


def journey(page: Page, shop: Shop, scale: Scale, press: Press, fill: Callable[[str, str], None]) -> None:
    """The same way for every hand: `press` presses a button, `fill` fills a field of the opening form."""
    for name, text in LABEL.items():
        fill(f"#open-form [name={name}]", text)
    expect(page.locator("#open-plan")).to_contain_text("of C1")
    press("#open-form button[type=submit]")
    expect(page.locator("#job")).to_be_visible()
    go(page, press, "act")
    press("#planned-cans button")
    expect(page.locator("#call-begin")).to_have_text("Begin: Charging")
    press("#call-begin")
    expect(page.locator("#where")).to_contain_text("Charging")
    expect(page.locator("#mass-digits")).to_have_text("0")
    press("#engine-on")
    press("#container-on")
    press("#low-on")
    expect(page.locator("#low-on")).to_have_attribute("aria-pressed", "true")
    scale.flow_kg_s = 0.008
    go(page, press, "live")
    expect(page.locator("html")).to_have_attribute("data-call", "critical")
    expect(page.locator("#call-word")).to_have_text("Close the low-side valve now")
    press("#call-end")
    scale.flow_kg_s = 0.0  # a slow hand lets more in: the window is wide
    expect(page.locator("#low-off")).to_have_attribute("aria-pressed", "true")
    expect(page.locator("html")).not_to_have_attribute("data-call", "critical")
    go(page, press, "act")
    press("#container-off")
    press("#step-end")
    expect(page.locator("#where")).to_contain_text("no step in progress")
    go(page, press, "record")
    press("#close-button")
    press("#close-button")
    expect(page.locator("#where")).to_contain_text("closed")
    assert_record(page, shop)


def go(page: Page, press: Press, board: str) -> None:
    """To a board, where it is not shown already."""
    shown = page.locator("html").get_attribute("data-board")
    button = f"#boards [data-to={board}]"
    if shown != board and page.locator(button).is_visible():
        press(button)


def assert_record(page: Page, shop: Shop) -> None:
    href = page.locator("[data-form='record.json']").get_attribute("href")
    record = shop.http.get(f"/{href}")
    assert record.status_code == 200
    assert "R-134a" in record.text
    view = shop.view()
    assert view["closed_at"] is not None
    assert 0.015 < view["charged_kg"] < 0.060
    assert {"charging"} == set(view["steps"])
    assert view["valves"] == {"container": False, "low": False}


def test_with_the_keyboard_alone(look: Look, shop: Shop, scale: Scale) -> None:
    page = look()
    expect(page.locator("#open-form")).to_be_visible()

    def to(selector: str) -> None:
        expect(page.locator(selector)).to_be_visible()
        for _ in range(150):
            if page.evaluate("css => document.activeElement.matches(css)", selector):
                return
            page.keyboard.press("Tab")
        raise AssertionError(f"Tab does not lead to {selector}")

    def press(selector: str) -> None:
        to(selector)
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline == "solid", f"the focus on {selector} is not seen"
        page.keyboard.press("Enter")

    def fill(selector: str, text: str) -> None:
        to(selector)
        page.keyboard.type(text)

    journey(page, shop, scale, press, fill)


def test_with_fingers_on_a_phone(look: Look, shop: Shop, scale: Scale) -> None:
    page = look(width=390, height=844, has_touch=True, is_mobile=True)

    def press(selector: str) -> None:
        # A call may be withdrawn between two looks, and its button with it: seen and measured in one.
        size = page.wait_for_function(SIZE_ONCE_VISIBLE, arg=selector).json_value()
        assert min(size) >= 44, f"{selector} is too small for a finger"
        page.locator(selector).tap()

    def fill(selector: str, text: str) -> None:
        page.locator(selector).tap()
        page.locator(selector).fill(text)

    journey(page, shop, scale, press, fill)


def test_a_slip_is_taken_back_and_the_record_says_so(look: Look, shop: Shop, scale: Scale) -> None:
    del scale
    job = shop.open()
    page = look()
    page.locator("#high-on").click()
    expect(page.locator("#undo-text")).to_have_text("Written down: High side: open")
    expect(page.locator("#undo-button")).to_have_text("Undo: it is shut")
    page.locator("#undo-button").click()
    expect(page.locator("#high-off")).to_have_attribute("aria-pressed", "true")
    expect(page.locator("#undo")).to_be_hidden()
    page.locator("#boards [data-to=record]").click()
    expect(page.locator("#notes")).to_have_text(re.compile("correction: .High side: open. was a slip"))
    assert shop.view(job)["valves"] == {"high": False}


# Vapour flows on while a container is said to be off, and its hose counts as emptied: nothing sets that right later.
def test_what_nothing_takes_back_asks_twice(look: Look, shop: Shop, charge: str) -> None:
    page = look(script=SLOW)
    button = page.locator("#unmount-button")
    button.click()
    expect(button).to_have_text(re.compile("^Press again, no undo"))
    expect(page.locator("#say-politely")).to_contain_text("Press again, no undo")
    assert shop.view(charge)["mounted"] == "C1"
    button.click()
    expect(page.locator("#unmount-row")).to_be_hidden()
    expect(page.locator("#undo")).to_be_hidden()
    assert shop.view(charge)["mounted"] is None


def test_an_asking_button_calms_down_by_itself(look: Look, charge: str) -> None:
    del charge
    page = look(script=FAST)
    page.locator("#boards [data-to=record]").click()
    button = page.locator("#close-button")
    button.click()
    expect(button).to_have_attribute("data-asks", "false")
    expect(button).to_have_text("Close the job")


def test_the_act_that_ends_the_danger_is_the_large_button(look: Look, shop: Shop) -> None:
    job = shop.open()
    shop.act(job, "engine", running=True)
    shop.act(job, "valve", valve="high", open=True)
    page = look()
    end, acknowledge = (page.locator(f"#call-{one}") for one in ("end", "acknowledge"))
    expect(end).to_have_text("I shut it")
    sizes = [
        one.evaluate("one => one.offsetHeight * parseFloat(getComputedStyle(one).fontSize)")
        for one in (end, acknowledge)
    ]
    assert sizes[0] > 1.5 * sizes[1]
    end.click()
    expect(page.locator("html")).not_to_have_attribute("data-call", "critical")
    assert shop.view(job)["valves"] == {"high": False}


def test_when_the_job_is_closed_its_record_is_shown(look: Look, shop: Shop) -> None:
    job = shop.open()
    page = look()
    expect(page.locator("#job")).to_be_visible()  # before that a closed job is none that the page follows
    expect(page.locator("html")).to_have_attribute("data-board", "act")
    shop.act(job, "job.close")
    expect(page.locator("html")).to_have_attribute("data-board", "record")
    expect(page.locator("#record-hint")).to_be_hidden()
    expect(page.locator("#call-begin")).to_have_text("Open a job")


def test_a_refusal_stands_beside_the_field_that_it_is_about(look: Look) -> None:
    page = look()
    for name, text in {**LABEL, "charge_min": "99"}.items():
        page.locator(f"#open-form [name={name}]").fill(text)
    page.locator("#open-form button[type=submit]").click()
    field = page.locator("#open-form [name=charge_min]")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_be_focused()
    expect(page.locator("#open-form .error")).to_contain_text("charge_min is above charge_max")
