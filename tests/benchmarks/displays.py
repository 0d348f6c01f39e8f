"""What the page costs: first paint, live value, bytes, and what 50 displays on one service do to each other.

    .venv/bin/python tests/benchmarks/displays.py [--displays 50] [--updates 60]

A report and no test: the numbers depend on the machine, so the displays are given as a ratio within one run, that of
the last display's delay to the first's. A delay is from sending a reading to the state that contains it.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from typing import Any

import httpx

OPEN = {
    "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g"},
    "scale": {"resolution": "1 g"},
}
PAUSE_S = 0.2
TIMEOUT = httpx.Timeout(20.0, read=60.0)


def say(line: str) -> None:
    """One line of the report."""
    sys.stdout.write(f"{line}\n")


def main(displays: int, updates: int) -> None:
    """Start a service, measure, report."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "fillmark", "serve", "--port", "0", "--database", f"{folder}/log.sqlite"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as service:
            try:
                assert service.stdout is not None
                url = service.stdout.readline().split()[2]
                asyncio.run(measured(url, displays, updates))
            finally:
                service.terminate()


async def measured(url: str, displays: int, updates: int) -> None:
    """One display alone, many together, then a real browser."""
    limits = httpx.Limits(max_connections=displays + 10)
    async with httpx.AsyncClient(base_url=url, timeout=TIMEOUT, trust_env=False, limits=limits) as http:
        (await http.post("/v1/jobs?bay=bay-1", json=OPEN)).raise_for_status()
        mount = {"type": "container.mount", "container": "C1", "net": "1 kg"}
        await http.post("/v1/jobs/bay-1.1/actions", json=mount, headers={"Idempotency-Key": "mount"})
        alone = await delays(http, 1, updates)
        many = await delays(http, displays, updates)
    first = statistics.median(row[0] for row in many)
    last = statistics.median(row[-1] for row in many)
    single = statistics.median(row[0] for row in alone)
    say(f"one display alone: {single * 1e3:.1f} ms from the reading to the state (median of {updates})")
    say(f"{displays} displays: first {first * 1e3:.1f} ms, last {last * 1e3:.1f} ms, ratio {last / first:.2f}")
    say(f"the last of {displays} against one alone: {last / single:.2f}")
    browser = shutil.which("chromium")
    if browser is not None:
        await asyncio.to_thread(in_browser, url, browser)


async def delays(http: httpx.AsyncClient, displays: int, updates: int) -> list[list[float]]:
    """For each reading the delays of all displays, the quickest first."""
    arrived: dict[float, list[float]] = {}
    everybody = asyncio.Event()
    ready = asyncio.Semaphore(0)

    async def follow() -> None:
        async with http.stream("GET", "/v1/jobs/bay-1.1/stream") as stream:
            ready.release()
            async for line in stream.aiter_lines():
                if not line.startswith('data: {"now"'):
                    continue
                at = time.perf_counter()
                reading = json.loads(line[6:])["readings"].get("scale/mass")
                seen = arrived.setdefault(reading["at"] if reading else 0.0, [])
                seen.append(at)
                if len(seen) == displays:
                    everybody.set()

    followers = [asyncio.create_task(follow()) for _ in range(displays)]
    for _ in followers:
        await ready.acquire()
    rows = []
    for count in range(updates):
        everybody.clear()
        stamp = round(time.time(), 3)
        sent = time.perf_counter()
        record = {"n": "bay-1/scale/mass", "u": "kg", "t": stamp, "v": 5.0 - 0.001 * count}
        (await http.post("/v1/readings", json=[record])).raise_for_status()
        await asyncio.wait_for(everybody.wait(), 30.0)
        rows.append(sorted(at - sent for at in arrived[stamp]))
        await asyncio.sleep(PAUSE_S)
    for follower in followers:
        follower.cancel()
    await asyncio.gather(*followers, return_exceptions=True)
    return rows


def in_browser(url: str, browser: str) -> None:
    """First paint, the first live value and the bytes of a first visit, median of five."""
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - only where there is a browser

    script = """() => ({
        paint: performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? null,
        live: window.liveAt ?? null,
        bytes: [...performance.getEntriesByType('resource'), ...performance.getEntriesByType('navigation')]
            .filter(one => !one.name.includes('/v1/')).reduce((sum, one) => sum + one.transferSize, 0),
    })"""
    watch = """new MutationObserver(() => {
        if (window.liveAt === undefined && /\\d/.test(document.getElementById('mass-digits')?.textContent ?? ''))
            window.liveAt = performance.now();
    }).observe(document, { subtree: true, childList: true, characterData: true });"""
    rows: list[dict[str, Any]] = []
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=browser, args=["--no-sandbox", "--disable-gpu"])
        for _ in range(5):
            context = started.new_context(service_workers="block")
            context.add_init_script(watch)
            page = context.new_page()
            page.goto(f"{url}/?bay=bay-1")
            page.wait_for_function("() => window.liveAt !== undefined")
            rows.append(page.evaluate(script))
            context.close()
        started.close()
    for name, unit in (("paint", "ms"), ("live", "ms"), ("bytes", "bytes")):
        say(f"first visit, {name}: {statistics.median(row[name] for row in rows):.0f} {unit}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--displays", type=int, default=50)
    parser.add_argument("--updates", type=int, default=60)
    given = parser.parse_args()
    main(given.displays, given.updates)
