"""Charges random seeds from FIRST to before LAST in steps of STEP and prints one JSON line a seed, for test_seeds.py.

The loop is closed: the simulated technician closes the valve when Fillmark says so.
"""

from __future__ import annotations

import json
import sys

from fillmark.engine.landing_doubt import landing_doubt
from fillmark.engine.view import summary
from fillmark.intake.replay import Replay
from fillmark_sim.bay import Bay
from fillmark_sim.scenarios import sample

CALL = "close-valve-now"


def charge(seed: int) -> dict[str, object]:
    """One charge: what Fillmark says of it, and what is true."""
    bay, run = Bay(sample(seed), seed), Replay()
    lands: tuple[float, float] | None = None
    for pack in bay.packs():
        run.take(pack.records, max(run.now_s, pack.arrival_s))
        for stop_point in run.active():
            bay.hear(stop_point)
            if stop_point == CALL and lands is None:
                (called,) = run.state.jobs.values()
                land, doubt = called.picture.landing, landing_doubt(called)
                lands = None if land is None or doubt is None else (land.if_called_kg, doubt.u_kg)
    (folded,) = run.state.jobs.values()
    job, shut_s = summary(folded), bay.port_shut_s
    calls = [moved.at_s for moved in folded.journal if moved.id == CALL and moved.after == "unacknowledged active"]
    learnt = [(one.reaction_s, shut_s - one.called_s) for one in folded.closings if shut_s is not None]
    return {
        "seed": seed,
        "charged_kg": job["charged_kg"],
        "u_kg": job["charged_u_kg"],
        "true_kg": bay.truth.charged_kg,
        "aim_kg": bay.truth.aim_kg,
        "calls": len(calls),
        "lands_and_u_kg": lands,
        "reaction_and_true_s": learnt[-1] if learnt else None,
    }


if __name__ == "__main__":
    first, last, step = (int(text) for text in sys.argv[1:])
    for number in range(first, last, step):
        sys.stdout.write(json.dumps(charge(number)) + "\n")
