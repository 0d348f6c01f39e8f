"""What the technician enters when he opens the job: the circuit's label, and the means that he works with."""

from __future__ import annotations

from fillmark_sim.scenario import Scenario


def opening(scenario: Scenario) -> dict[str, object]:
    """Fields of the action that opens the job, as the scenario declares them; a visit has more."""
    circuit, hose, scale = scenario.circuit, scenario.hose, scenario.scale
    length_m = hose.length_m if hose.declared_length_m is None else hose.declared_length_m
    bore_m = hose.bore_m if hose.declared_bore_m is None else hose.declared_bore_m
    shutoff = {"shutoff": True} if hose.shutoff else {}
    return {
        "circuit": {
            "refrigerant": circuit.refrigerant,
            "charge_min": f"{circuit.charge_min_kg * 1000.0:.0f} g",
            "charge_max": f"{circuit.charge_max_kg * 1000.0:.0f} g",
            "volume": f"{circuit.volume_m3 * 1000.0:g} L",
        },
        "aim": scenario.aim if scenario.aim_kg is None else f"{scenario.aim_kg * 1000.0:.0f} g",
        "hose": {"length": f"{length_m:g} m", "bore": f"{bore_m * 1e3:g} mm", **shutoff},
        "scale": {
            "resolution": f"{scale.resolution_kg * 1000.0:g} g",
            "class": scale.accuracy_class,
            "capacity": f"{scale.capacity_kg:g} kg",
            "delay": f"{scenario.radio.declared_delay_s:g} s",
            "sheltered": scale.sheltered,
        },
        "reaction_time": f"{scenario.technician.reaction_s:g} s",
    }
