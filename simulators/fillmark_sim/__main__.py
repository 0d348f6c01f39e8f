"""`python -m fillmark_sim`: write the demo streams, name the scenarios, or run a campaign of random charges."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from fillmark_sim.campaign import command as campaign
from fillmark_sim.scenarios import get, names
from fillmark_sim.stream import write_demos


def main(arguments: list[str] | None = None) -> int:
    """Run one command. Returns the exit status."""
    parser = argparse.ArgumentParser(prog="fillmark_sim", description="Simulated charging bays with known truth.")
    commands = parser.add_subparsers(dest="command", required=True)
    streams = commands.add_parser("streams", help="write every demo stream and its truth")
    streams.add_argument("out_dir", type=Path, metavar="OUT_DIR")
    commands.add_parser("list", help="name the scenarios")
    campaign.add_options(commands.add_parser("campaign", help=campaign.ABOUT, description=campaign.ABOUT))
    chosen = parser.parse_args(arguments)
    if chosen.command == "list":
        for name in names():
            sys.stdout.write(f"{name}: {get(name).title}\n")
        return 0
    if chosen.command == "campaign":
        return campaign.run(chosen)
    for name, truth in write_demos(chosen.out_dir).items():
        sys.stdout.write(f"{name}: {truth.charged_kg * 1e3:.1f} g charged, aim {truth.aim_kg * 1e3:.0f} g\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
