"""Recorded streams: one pack a line, with the truth beside it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from fillmark.wire.senml import encode
from fillmark_sim.build import build
from fillmark_sim.radio import Pack
from fillmark_sim.scenario import Scenario
from fillmark_sim.scenarios import get, names
from fillmark_sim.truth import Truth

Listener = Callable[[Pack], Iterable[str]]
DEMO_SEED = 7


def write_stream(path: Path, scenario: Scenario, seed: int, listener: Listener | None = None) -> Truth:
    """Simulate one charge or visit and write NAME.senml.jsonl and NAME.truth.json.

    Args:
        path: folder and NAME, with or without .senml.jsonl.
        scenario: what happens.
        seed: decides all scatter.
        listener: sees every pack and returns the ids of the stop points that are active. Without one, a technician who
            obeys closes by hand.

    Returns:
        The truth at the end.
    """
    name = path.name.removesuffix(".senml.jsonl")
    if listener is None and scenario.technician.policy == "obeys":
        scenario = replace(scenario, technician=replace(scenario.technician, policy="by_hand"))
    bay = build(scenario, seed)
    path.parent.mkdir(parents=True, exist_ok=True)
    with (path.parent / f"{name}.senml.jsonl").open("w", encoding="utf-8", newline="\n") as stream:
        for pack in bay.packs():
            stream.write(encode(pack.records) + "\n")
            for stop_point in listener(pack) if listener is not None else ():
                bay.hear(stop_point)
    truth = json.dumps(bay.truth.to_json(), separators=(",", ":"))
    (path.parent / f"{name}.truth.json").write_text(truth + "\n", encoding="utf-8", newline="\n")
    return bay.truth


def write_demos(out_dir: Path, listen: Callable[[Scenario], Listener] | None = None) -> dict[str, Truth]:
    """Write every demo scenario's stream and truth into a folder, the same bytes each time.

    Args:
        out_dir: made when missing.
        listen: makes the listener of one scenario; without it nobody listens.
    """
    written = {}
    for name in names():
        scenario = get(name)
        listener = listen(scenario) if listen is not None else None
        written[name] = write_stream(out_dir / name, scenario, DEMO_SEED, listener)
    return written
