"""What every table of the configuration has in common. Drivers keep their own tables beside their code."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

NAME = r"^[A-Za-z0-9][A-Za-z0-9_.-]*$"
NAME_HINT = "a name of letters, digits and - _ ."
BAY_HINT = 'the name of a bay, as "bay-1"'


class Table(BaseModel):
    """A table whose keys are all known, and which nobody changes."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=False)
