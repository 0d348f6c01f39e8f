"""Problem details, RFC 9457: one row for each kind of refusal. The slug is stable; clients may rely on it."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

LONGEST_DETAIL = 600


@dataclass(frozen=True, slots=True)
class Problem:
    """One kind of refusal: its slug, its HTTP status, and its title."""

    slug: str
    status: int
    title: str

    @property
    def type(self) -> str:
        """The `type` of the problem document."""
        return f"/problems/{self.slug}"


_ROWS = (
    Problem("not-json", 400, "The body is not JSON"),
    Problem("bad-request", 400, "The request cannot be read"),
    Problem("idempotency-key-missing", 400, "An action needs an Idempotency-Key"),
    Problem("token-required", 401, "A write needs the service's token"),
    Problem("foreign-origin", 403, "A page from elsewhere may not do this"),
    Problem("not-found", 404, "There is nothing under this path"),
    Problem("unknown-job", 404, "There is no such job"),
    Problem("unknown-container", 404, "There is no such container in the stock"),
    Problem("unknown-refrigerant", 404, "There is no such refrigerant"),
    Problem("nothing-charged", 404, "Nothing was charged, so there is no label"),
    Problem("method-not-allowed", 405, "The path does not take this method"),
    Problem("not-acceptable", 406, "The record has no such form"),
    Problem("action-refused", 409, "The action does not fit the state of the job"),
    Problem("stock-refused", 409, "The entry does not fit the stock"),
    Problem("job-closed", 409, "The job is not the open one of its bay"),
    Problem("body-too-large", 413, "The body is over the limit"),
    Problem("unsupported-media-type", 415, "The body is of another media type"),
    Problem("unknown-host", 421, "The service is not reached under this name"),
    Problem("invalid-senml", 422, "The pack breaks a rule of SenML or of the channels"),
    Problem("reading-from-the-future", 422, "A reading is ahead of the service's clock"),
    Problem("invalid-field", 422, "A field cannot be taken"),
    Problem("idempotency-key-reused", 422, "The Idempotency-Key belongs to another request"),
    Problem("property-out-of-range", 422, "The refrigerant has no such state"),
    Problem("internal-error", 500, "The service has made a mistake"),
    Problem("not-durable", 503, "What was sent is not yet on the disk"),
    Problem("backlog-full", 503, "Too much is waiting for the disk"),
    Problem("stopping", 503, "The service is stopping"),
    Problem("storage-full", 507, "There is no room left on the disk"),
)

PROBLEMS: Mapping[str, Problem] = {row.slug: row for row in _ROWS}


@dataclass(frozen=True, slots=True)
class Refusal:
    """One refusal on its way to the client.

    Attributes:
        slug: which kind.
        detail: what is wrong with this request and what would do.
        field: JSON pointer to the field at fault; empty when the whole is meant.
        accepted: what would be accepted.
        more: further members of the document.
        headers: headers of the answer.
    """

    slug: str
    detail: str
    field: str = ""
    accepted: str = ""
    more: Mapping[str, object] = dataclasses.field(default_factory=dict)
    headers: Mapping[str, str] = dataclasses.field(default_factory=dict)

    @property
    def problem(self) -> Problem:
        """The row of the table."""
        return PROBLEMS[self.slug]

    def document(self, instance: str) -> dict[str, object]:
        """The problem document. Members that say nothing are left out."""
        row = self.problem
        detail = self.detail if len(self.detail) <= LONGEST_DETAIL else self.detail[:LONGEST_DETAIL] + "…"
        members = {
            "type": row.type,
            "title": row.title,
            "status": row.status,
            "detail": detail,
            "instance": instance,
            "field": self.field[:LONGEST_DETAIL] or None,
            "accepted": self.accepted[:LONGEST_DETAIL] or None,
            **self.more,
        }
        return {name: value for name, value in members.items() if value is not None}


class ProblemError(Exception):
    """Ends a request with a problem document."""

    def __init__(
        self,
        slug: str,
        detail: str,
        *,
        field: str = "",
        accepted: str = "",
        more: Mapping[str, object] | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(detail)
        self.refusal = Refusal(slug, detail, field, accepted, more or {}, headers or {})
