"""Charges random seeds from FIRST to before LAST in steps of STEP and prints one JSON line a seed, for test_seeds.py.

The loop is closed: the simulated technician closes the valve when Fillmark says so.
"""

from __future__ import annotations

import json
import sys

from fillmark.engine.view import summary
from fillmark.intake.replay import Replay
from fillmark_sim.bay import Bay
from fillmark_sim.scenarios import sample


def charge(seed: int) -> dict[str, object]:
    """One charge: what Fillmark says of it, and what is true."""
    bay, run = Bay(sample(seed), seed), Replay()
    for pack in bay.packs():
        run.take(pack.records, max(run.now_s, pack.arrival_s))
        for stop_point in run.active():
            bay.hear(stop_point)
    (job,) = (summary(job) for job in run.state.jobs.values())
    raised = job["stop_points"]
    calls = [row["at"] for row in raised if row["id"] == "close-valve-now"] if isinstance(raised, list) else []
    return {
        "seed": seed,
        "charged_kg": job["charged_kg"],
        "u_kg": job["charged_u_kg"],
        "true_kg": bay.truth.charged_kg,
        "aim_kg": bay.truth.aim_kg,
        "calls": len(calls),
    }


if __name__ == "__main__":
    first, last, step = (int(text) for text in sys.argv[1:])
    for number in range(first, last, step):
        sys.stdout.write(json.dumps(charge(number)) + "\n")
