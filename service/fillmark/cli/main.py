"""The command's frame: what all subcommands share."""

from __future__ import annotations

from typing import Annotated

import typer

from fillmark import __version__
from fillmark.cli import (
    agent,
    demo,
    plan,
    record,
    replay,
    serve,
    simulate,
    stock,
    trial,
    trial_evacuation,
    trial_nitrogen,
    trial_performance,
    watch,
)

app = typer.Typer(
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="Weigh refrigerant into an air-conditioning circuit, live, and know when to stop.",
    epilog="Work on refrigerant circuits is for trained people. The label, the service manual and local codes decide.",
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(__version__)
        raise typer.Exit


@app.callback()
def main(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Weigh refrigerant into an air-conditioning circuit, live, and know when to stop."""
    del version


app.command("demo")(demo.demo)
app.command("serve")(serve.serve)
app.command("agent")(agent.agent)
trials = typer.Typer(no_args_is_help=True, help="Try the judgements on simulated cases whose truth is known.")
trials.command("holds")(trial.holds)
trials.command("evacuation")(trial_evacuation.evacuation)
trials.command("nitrogen")(trial_nitrogen.nitrogen)
trials.command("performance")(trial_performance.performance)
app.add_typer(trials, name="trial")
app.command("plan")(plan.plan)
app.add_typer(record.app, name="record")
app.command("replay")(replay.replay)
app.command("simulate")(simulate.simulate)
app.command("stock")(stock.stock)
app.command("watch")(watch.watch)
