"""`fillmark stock`, asking a real service."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

Run = Callable[..., Any]


def test_containers_and_a_year_of_a_service(run: Run, service: str, tmp_path: Path) -> None:
    entry = {"type": "purchase", "container": "K12", "net": "13.6 kg", "refrigerant": "R-513A", "on": "2026-03-01"}
    with httpx.Client(base_url=service, trust_env=False, timeout=30.0) as client:
        bought = client.post("/v1/containers", json=entry, headers={"Idempotency-Key": "1"})
        assert bought.status_code == 200, bought.text
    listed = run("stock", "--service", service)
    assert (listed.status, listed.err) == (0, "")
    assert "K12" in listed.out
    assert "13.600 kg" in listed.out
    assert "none stated" in listed.out
    year = run("stock", "--service", service, "--year", 2026, "--gwp", "AR5")
    # R-513A in AR5: 0.44 of 1300 (from memory) and 0.56 of less than 1 (read, iifiir.org): 13.6 kg are at most 7.787 t.
    assert "at most 7.787" in year.out
    path = tmp_path / "year.csv"
    written = run("stock", "--service", service, "--year", 2026, "--gwp", "AR5", "--out", path)
    assert written.out == f"{path}: 10 rows\n"
    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8-sig"))))
    assert {row["flow"]: row["mass_kg"] for row in rows}["closing"] == "13.6"
    unsaid = run("stock", "--service", service, "--year", 2026)
    assert unsaid.status == 2
    assert "AR6 = IPCC AR6 (2021)" in unsaid.one_line
    nowhere = run("stock", "--service", service, "--year", 2026, "--gwp", "AR4", "--out", tmp_path / "no" / "x.csv")
    assert nowhere.status == 2
    assert nowhere.one_line.endswith("; choose another place with --out")


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (["--service", "nonsense"], 2, "is no address"),
        (["--out", "x.csv"], 2, "--out belongs to --year"),
    ],
)
def test_what_cannot_be_asked_is_one_line(run: Run, arguments: list[str], status: int, said: str) -> None:
    outcome = run("stock", *arguments)
    assert (outcome.status, outcome.out) == (status, "")
    assert said in outcome.one_line


def test_without_a_service_it_says_so(run: Run, silent_port: int) -> None:
    outcome = run("stock", "--service", f"http://127.0.0.1:{silent_port}")
    assert outcome.status == 3
    assert "start one with: fillmark serve" in outcome.one_line
