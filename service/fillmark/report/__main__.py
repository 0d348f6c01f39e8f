"""`python -m fillmark.report JOB`: the lines of a log on standard input, the record's JSON on standard output.

The service makes records in a process of its own, because folding hours of readings again would take the time in which
it should be watching.
"""

from __future__ import annotations

import io
import os
import sys

from fillmark.intake.replay import StreamError
from fillmark.report.document import record_of
from fillmark.report.forms import as_json


def main() -> int:
    """Make one record."""
    if hasattr(os, "nice"):
        os.nice(5)
    try:
        made = as_json(record_of(io.TextIOWrapper(sys.stdin.buffer, encoding="utf-8"), sys.argv[1]))
    except StreamError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    sys.stdout.buffer.write(made)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
