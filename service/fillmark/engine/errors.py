"""Refusals. Every one is a sentence that says what to do next; the state stays as it was."""

from __future__ import annotations


class ActionRefusedError(Exception):
    """An action that does not fit the state of the job.

    Attributes:
        code: stable name of the refusal, for machines.
        field: the field of the action at fault.
        detail: what is wrong and what would do, for people.
    """

    def __init__(self, code: str, field: str, detail: str) -> None:
        super().__init__(detail)
        self.code = code
        self.field = field
        self.detail = detail
