"""What is really so in a visit: the charge's truth, and for each step what was drawn, leaked, boiled."""

from __future__ import annotations

from dataclasses import dataclass, field

from fillmark_sim.truth import Truth


@dataclass(slots=True)
class VisitTruth(Truth):
    """The true state, live. `steps` has an entry for every step that has begun; SI units."""

    steps: dict[str, dict[str, object]] = field(default_factory=dict)

    @property
    def outcome(self) -> str:
        """What came of it, step by step; the charge as well where there was one."""
        done = [f"{name.replace('_', ' ')}{_result(step)}" for name, step in self.steps.items()]
        charge = self.charge_outcome() if self.track else "nothing was charged"
        return ", ".join([*done, charge])

    def absorb(self, charge: Truth) -> None:
        """Take over what a charge has come to."""
        for name in ("charged_kg", "dispensed_kg", "hose_kg", "lost_kg", "recovered_kg", "purged_kg"):
            setattr(self, name, getattr(charge, name))
        self.containers, self.track = charge.containers, charge.track
        self.at.update(charge.at)

    def to_json(self) -> dict[str, object]:
        """Plain data for the truth file."""
        # Named, because a dataclass with slots is another class than the one that `super()` remembers.
        return {**Truth.to_json(self), "steps": {name: _rounded(step) for name, step in self.steps.items()}}


def _result(step: dict[str, object]) -> str:
    """What a step came to, from the figure that tells it."""
    if "recovered_kg" in step:
        return f": {step['recovered_kg']:.3f} kg recovered"
    if "truth" in step:
        return f": {step['truth']}"
    return f": {step['pressure_pa']:.0f} Pa" if "pressure_pa" in step else ""


def _rounded(step: dict[str, object]) -> dict[str, object]:
    return {name: float(f"{value:.6g}") + 0.0 if isinstance(value, float) else value for name, value in step.items()}
