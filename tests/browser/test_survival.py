"""What the page must live through, and that it never shows a stale mass as a live one."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from tests.browser.conftest import Line, Scale, Shop

Look = Callable[..., Page]
LOST_S = 10.0
# The engine calls a scale stale after 3 s; the page looks four times a second; the rest is a busy machine's.
STALE_AFTER_S = 3.0 + 0.25 + 2.0

# Twenty times a second: does the page show a mass, and does it show it as a live one?
WATCH = """
window.seen = [];
addEventListener("DOMContentLoaded", () => setInterval(() => {
  const shown = document.getElementById("mass-digits").textContent;
  const hidden = document.getElementById("job").hidden || document.getElementById("mass").hidden;
  const live = !hidden && shown !== "–" && document.getElementById("mass").dataset.stale === "false";
  window.seen.push([Math.round(performance.now()), live, shown]);
}, 50));
"""


def watched(page: Page) -> list[tuple[float, bool, str]]:
    seen: list[tuple[float, bool, str]] = page.evaluate("window.seen")
    return seen


def now_ms(page: Page) -> float:
    return float(page.evaluate("performance.now()"))


def show_live(page: Page) -> None:
    expect(page.locator("html")).to_have_attribute("data-link", "live")
    expect(page.locator("#mass")).to_have_attribute("data-stale", "false")


def assert_never_live_after(page: Page, from_ms: float) -> None:
    page.wait_for_function("ms => performance.now() > ms + 800", arg=from_ms)
    later = [(at, shown) for at, live, shown in watched(page) if live and at > from_ms]
    assert later == [], "a stale mass was shown as a live one"
    assert [at for at, _, _ in watched(page) if at > from_ms], "nobody looked"


# Chrome freezes pages of a sleeping device: no timer, no message. Page.setWebLifecycleState of its DevTools protocol.
@pytest.mark.usefixtures("charge")
def test_a_silent_scale_is_not_shown_as_live_awake_or_after_sleep(look: Look, scale: Scale) -> None:
    awake, asleep = look(script=WATCH), look(script=WATCH)
    for page in (awake, asleep):
        show_live(page)
    tools = asleep.context.new_cdp_session(asleep)
    tools.send("Page.setWebLifecycleState", {"state": "frozen"})
    before = now_ms(awake) - time.monotonic() * 1e3
    stale_ms = scale.silence() * 1e3 + before + STALE_AFTER_S * 1e3
    assert_never_live_after(awake, stale_ms)
    expect(awake.locator("#mass-age")).to_contain_text("silent since")
    decoration = awake.locator("#mass-digits").evaluate("one => getComputedStyle(one).textDecorationLine")
    assert decoration == "line-through"
    woke: dict[str, Any] = tools.send("Runtime.evaluate", {"expression": "performance.now()"})
    tools.send("Page.setWebLifecycleState", {"state": "active"})
    assert_never_live_after(asleep, woke["result"]["value"] + 1000.0)
    expect(asleep.locator("#mass")).to_have_attribute("data-stale", "true")


@pytest.mark.usefixtures("charge")
def test_ten_seconds_without_a_packet_and_then_the_truth(look: Look, line: Line, scale: Scale) -> None:
    page = look(line.url, script=WATCH)
    show_live(page)
    cut_ms = now_ms(page)
    line.cut()
    page.wait_for_function("ms => performance.now() > ms", arg=cut_ms + LOST_S * 1e3)
    expect(page.locator("html")).to_have_attribute("data-link", "lost")
    expect(page.locator("#lost")).to_be_visible()
    mend_ms = now_ms(page)
    late = [at for at, live, _ in watched(page) if live and cut_ms + STALE_AFTER_S * 1e3 < at < mend_ms]
    assert late == []
    line.mend()
    show_live(page)
    shown = [text for at, live, text in watched(page) if live and at > mend_ms]
    assert int(shown[-1]) >= 30, "it charged on meanwhile, and the page knows"
    del scale


@pytest.mark.usefixtures("charge", "scale")
def test_a_restart_of_the_service_needs_no_reload(look: Look, shop: Shop) -> None:
    page = look(script=WATCH)
    show_live(page)
    page.evaluate("window.same = true")
    shop.stop()
    expect(page.locator("html")).to_have_attribute("data-link", "lost")
    expect(page.locator("#mass")).to_have_attribute("data-stale", "true")
    shop.start()
    show_live(page)
    assert page.evaluate("window.same")


# The page takes its time from the service; a tablet on a shelf is often wrong by hours, in either direction.
@pytest.mark.usefixtures("charge", "scale")
def test_a_wrong_clock_of_the_tablet_changes_nothing(look: Look) -> None:
    wrong = "const true_ = Date.now; Date.now = () => true_() {0} 5 * 3600e3;"
    for sign in ("+", "-"):
        page = look(script=wrong.format(sign) + WATCH)
        shown = page.wait_for_function(
            "() => document.getElementById('mass').dataset.stale === 'false' &&"
            " document.getElementById('mass-age').textContent"
        )
        age = str(shown.json_value())
        assert age.endswith("old"), age
        assert float(age.split(maxsplit=1)[0]) < STALE_AFTER_S


def test_the_page_opens_without_the_service_and_says_so(look: Look, shop: Shop) -> None:
    page = look()
    expect(page.locator("#open-form")).to_be_visible()
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    cached = page.evaluate("async () => (await (await caches.open('fillmark-shell')).keys()).map(one => one.url)")
    assert len(cached) > 40
    assert not [url for url in cached if "/v1/" in url], "a reading was kept"
    shop.stop()
    page.reload()
    expect(page.locator("html")).to_have_attribute("data-link", "lost")
    expect(page.locator("#lost")).to_be_visible()
    assert page.locator("#mass-digits").is_hidden()
    shop.start()


def test_it_can_be_installed(look: Look) -> None:
    """Chrome's own judgement: Page.getInstallabilityErrors of its DevTools protocol."""
    page = look()
    expect(page.locator("#open-form")).to_be_visible()
    tools = page.context.new_cdp_session(page)
    manifest = tools.send("Page.getAppManifest")
    assert manifest["errors"] == []
    errors = [one["errorId"] for one in tools.send("Page.getInstallabilityErrors")["installabilityErrors"]]
    assert [one for one in errors if one != "in-incognito"] == []  # the browser of a test keeps no profile
