"""The picture of a campaign: which share of the charges lands how near the aim, with the weigher and by hand."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from fillmark.wire.extras import module
from fillmark_sim.campaign.charge import Outcome

MARKS_G = (1, 2, 5, 10, 20, 50, 100, 200, 500)
LEAST_G = 0.5


def shares(errors_kg: Sequence[float]) -> tuple[list[float], list[float]]:
    """Distances in grams, ascending, and the share of charges (0 to 1) that lie no further off."""
    grams = sorted(max(abs(one) * 1e3, LEAST_G) for one in errors_kg)
    return grams, [(number + 1) / len(grams) for number in range(len(grams))]


def draw(outcomes: Sequence[Outcome], weigher: str, path: Path) -> None:
    """Draw the shares of all charges from cans, and write the picture (SVG or PNG, by the suffix).

    Raises:
        MissingExtraError: matplotlib is not installed.
    """
    plt = module("plots")
    plt.switch_backend("agg")
    cans = [one for one in outcomes if one.hand_error_kg is not None]
    with plt.rc_context({"svg.hashsalt": "fillmark", "svg.fonttype": "none", "font.size": 11}):
        figure, axes = plt.subplots(figsize=(7.0, 3.6), layout="constrained")
        lines = (
            (f"with {weigher}", [one.landing_kg for one in cans], "-"),
            ("by hand: counting cans, watching the gauge", [one.hand_error_kg or 0.0 for one in cans], "--"),
        )
        for label, errors, style in lines:
            grams, share = shares(errors)
            axes.step(grams, [100.0 * one for one in share], style, where="post", label=label, linewidth=2.0)
        axes.axvline(15.0, color="0.5", linewidth=1.0, linestyle=":")
        axes.text(15.5, 3.0, "15 g", color="0.35")
        axes.set(
            xscale="log", xlim=(LEAST_G, MARKS_G[-1]), ylim=(0.0, 102.0),
            xlabel="true charge off the aim by at most, g", ylabel=f"share of {len(cans)} charges, %",
        )  # fmt: skip
        axes.set_xticks(MARKS_G, [str(mark) for mark in MARKS_G], minor=False)
        axes.grid(visible=True, which="major", linewidth=0.4)
        figure.legend(loc="outside upper center", ncols=2)
        figure.savefig(path, metadata={"Date": None} if path.suffix == ".svg" else None)
        plt.close(figure)
