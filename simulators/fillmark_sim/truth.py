"""What is really so: masses by place, moments, and the track of the charged mass."""

from __future__ import annotations

from dataclasses import dataclass, field

TRACK_EVERY_S = 0.25
FINE_BEFORE_CLOSING_S = 20.0


@dataclass(slots=True)
class ContainerTruth:
    """One container: drawn and left, in kg."""

    id: str
    drawn_kg: float
    left_kg: float


@dataclass(slots=True)
class Truth:
    """The true state, live. Masses in kg, moments in Unix s.

    charged_kg: in the circuit, relative to the start. dispensed_kg: out of all containers. hose_kg: in the hose.
    lost_kg: out of the hose by unscrewing or recovery (recovered_kg is the part recovered). purged_kg: blown out of
    the hose. So dispensed = charged + hose + lost + purged.
    """

    scenario: str
    seed: int
    aim_kg: float
    scale_honest: bool
    charged_kg: float = 0.0
    dispensed_kg: float = 0.0
    hose_kg: float = 0.0
    lost_kg: float = 0.0
    recovered_kg: float = 0.0
    purged_kg: float = 0.0
    containers: list[ContainerTruth] = field(default_factory=list)
    at: dict[str, float] = field(default_factory=dict)
    track: list[tuple[float, float, float]] = field(default_factory=list)

    def mark(self, event: str, time_s: float, *, again: bool = False) -> None:
        """Note when something happened, the first time only unless `again`."""
        if again or event not in self.at:
            self.at[event] = round(time_s, 3)

    @property
    def outcome(self) -> str:
        """What came of it, in a few words."""
        return self.charge_outcome()

    def charge_outcome(self) -> str:
        """What the charge came to."""
        return f"{self.charged_kg * 1e3:.1f} g in the circuit, aim {self.aim_kg * 1e3:.0f} g"

    def to_json(self) -> dict[str, object]:
        """Plain data for the truth file: masses to 0.1 g, a fine track only before the last valve closed."""
        closed = self.at.get("valve-closed", 0.0)
        coarse = round(1.0 / TRACK_EVERY_S)
        kept = [
            point
            for index, point in enumerate(self.track)
            if index % coarse == 0 or closed - FINE_BEFORE_CLOSING_S <= point[0] <= closed + 2.0
        ]
        return {
            "scenario": self.scenario, "seed": self.seed, "aim_kg": _gram(self.aim_kg),
            "scale_honest": self.scale_honest, "charged_kg": _gram(self.charged_kg),
            "dispensed_kg": _gram(self.dispensed_kg), "hose_kg": _gram(self.hose_kg),
            "lost_kg": _gram(self.lost_kg), "recovered_kg": _gram(self.recovered_kg),
            "purged_kg": _gram(self.purged_kg),
            "containers": [
                {"id": one.id, "drawn_kg": _gram(one.drawn_kg), "left_kg": _gram(one.left_kg)}
                for one in self.containers
            ],
            "at": dict(self.at),
            "track": {
                "t": [round(point[0], 2) for point in kept],
                "charged_kg": [_gram(point[1]) for point in kept],
            },
        }  # fmt: skip


def _gram(mass_kg: float) -> float:
    return round(mass_kg, 4) + 0.0
