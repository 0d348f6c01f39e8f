from __future__ import annotations

import pytest

from fillmark.wire.senml import Record
from fillmark_agent.device import Sample


@pytest.mark.parametrize(
    ("sample", "record"),
    [
        (Sample("b/scale/mass", 9.5, 1, "kg"), Record("b/scale/mass", 9.5, unit="kg", value=1.0)),
        (Sample("b/scale/stable", 9.5, True), Record("b/scale/stable", 9.5, flag=True)),
        (Sample("b/action", 9.5, '{"type":"note"}'), Record("b/action", 9.5, text='{"type":"note"}')),
    ],
)
def test_a_sample_becomes_the_record_of_its_kind(sample: Sample, record: Record) -> None:
    assert sample.record() == record
