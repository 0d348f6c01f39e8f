"""The record over the network: in every form, from the log alone, and the same as from the exported log."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from fillmark.api.problems import ProblemError
from fillmark.api.records import chosen
from fillmark.report.document import record_of
from fillmark.report.forms import FORMS
from fillmark.report.verify import verify

if TYPE_CHECKING:
    from tests.api.conftest import Desk, HandClock

START_S = 1_800_000_000.0
BROWSER = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"


async def charged(desk: Desk, hand: HandClock) -> None:
    """A job in which some 40 g were charged, closed."""
    await desk.open(technician="A. Weir")
    await desk.act("bay-1.1", "step.begin", step="charging")
    await desk.act("bay-1.1", "container.mount", container="C1", net="340 g")
    await desk.act("bay-1.1", "particulars", equipment="mower", origin="virgin")
    for second in range(1, 40):
        hand.elapsed_s = float(second)
        if second == 10:
            await desk.act("bay-1.1", "valve", valve="low", open=True)
        await desk.mass(1.0 - 0.002 * max(min(second, 30) - 10, 0), START_S + second)
    await desk.act("bay-1.1", "valve", valve="low", open=False)
    await desk.act("bay-1.1", "job.close")


async def test_the_record_is_that_of_the_exported_log_in_every_form(desk: Desk, hand: HandClock) -> None:
    await charged(desk, hand)
    log = (await desk.http.get("/v1/jobs/bay-1.1/log?format=stream")).text.splitlines()
    here = record_of(log)
    assert here["charge"]["charged_kg"] == pytest.approx(0.04, abs=0.004)
    assert (here["particulars"]["technician"], here["particulars"]["equipment"]) == ("A. Weir", "mower")
    for suffix, form in FORMS.items():
        answer = await desk.http.get(f"/v1/jobs/bay-1.1/record.{suffix}")
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith(form.media_type)
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        assert answer.content == form.render(here), suffix
    negotiated = await desk.http.get("/v1/jobs/bay-1.1/record", headers={"Accept": "application/pdf"})
    assert negotiated.content.startswith(b"%PDF-")
    assert verify((await desk.http.get("/v1/jobs/bay-1.1/record")).json(), log).same
    label = await desk.http.get("/v1/jobs/bay-1.1/label.pdf")
    assert label.headers["content-disposition"] == 'inline; filename="bay-1.1-label.pdf"'
    assert label.content.startswith(b"%PDF-")


async def test_the_record_of_an_open_job_is_not_final_and_grows_with_it(desk: Desk) -> None:
    await desk.open()
    first = (await desk.http.get("/v1/jobs/bay-1.1/record")).json()
    assert not first["record"]["complete"]
    await desk.act("bay-1.1", "note", text="dry")
    second = (await desk.http.get("/v1/jobs/bay-1.1/record")).json()
    assert second["log"]["lines"] == first["log"]["lines"] + 1
    assert second["log"]["marks"][: first["log"]["lines"]] == first["log"]["marks"]
    refused = await desk.http.get("/v1/jobs/bay-1.1/label.pdf")
    assert (refused.status_code, refused.json()["type"]) == (404, "/problems/nothing-charged")


async def test_what_there_is_not_is_a_problem(desk: Desk) -> None:
    await desk.open()
    for path, status, kind in (
        ("/v1/jobs/bay-9.1/record", 404, "unknown-job"),
        ("/v1/jobs/bay-9.1/record.pdf", 404, "unknown-job"),
        ("/v1/jobs/bay-1.1/record.docx", 406, "not-acceptable"),
    ):
        answer = await desk.http.get(path)
        assert (answer.status_code, answer.json()["type"]) == (status, f"/problems/{kind}")
    answer = await desk.http.get("/v1/jobs/bay-1.1/record", headers={"Accept": "image/png"})
    assert (answer.status_code, answer.json()["accepted"]) == (
        406, "application/json, text/html, application/pdf, text/csv",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("accept", "suffix"),
    [
        ("", "json"),
        ("*/*", "json"),
        (BROWSER, "html"),
        ("application/pdf", "pdf"),
        ("text/csv;q=0.5, application/pdf;q=0.4", "csv"),
        ("text/*", "html"),
        ("application/json;q=0, */*", "html"),
        ("text/html;q=nonsense, text/csv", "csv"),
    ],
)
def test_the_form_follows_what_is_accepted(accept: str, suffix: str) -> None:
    assert chosen(accept) == suffix


@pytest.mark.parametrize("accept", ["image/png", "application/pdf;q=0", "text/plain, image/*"])
def test_what_is_not_accepted_is_not_sent(accept: str) -> None:
    with pytest.raises(ProblemError):
        chosen(accept)


async def test_a_record_that_cannot_be_made_says_so(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    await desk.open()
    monkeypatch.setattr("fillmark.api.record_maker.sys.executable", "/bin/false")
    answer = await desk.http.get("/v1/jobs/bay-1.1/record")
    assert answer.status_code == 500
    assert "could not be made" in json.loads(answer.text)["detail"]
