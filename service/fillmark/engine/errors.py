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


class HistoryNeededError(Exception):
    """An event of a time that `job_id` has forgotten. Nothing has changed; tell it again once the job is whole."""

    def __init__(self, job_id: str) -> None:
        super().__init__(f"{job_id} has forgotten the events of that time; fold it again from the log")
        self.job_id = job_id


class OtherCourseError(Exception):
    """Events that should lead to a known course and do not: some of them are missing, or they were not these."""
