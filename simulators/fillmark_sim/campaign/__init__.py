"""A campaign: seeded charges in a closed loop, scored against the truth: `python -m fillmark_sim campaign`.

Conditions, truth, scores, tables and pictures are the simulators' own. What is under trial is plugged in by name: a
`Weigher` from the entry-point group `fillmark_sim.weighers`. Simpler methods can be tried beside it.
"""

from fillmark_sim.campaign.charge import Live, Outcome, run_charge
from fillmark_sim.campaign.method import Method, MethodMaker, load_methods
from fillmark_sim.campaign.tasks import Task, run_tasks, tasks
from fillmark_sim.campaign.weigher import UnknownWeigherError, Weighed, Weigher, load_weigher

__all__ = [
    "Live", "Method", "MethodMaker", "Outcome", "Task", "UnknownWeigherError", "Weighed", "Weigher",
    "load_methods", "load_weigher", "run_charge", "run_tasks", "tasks",
]  # fmt: skip
