"""What is remembered of the log, against a plain set."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from fillmark.api.known import Known
from fillmark.store.log import Identity

identities = st.builds(
    Identity, st.sampled_from(["a/x", "b/x"]), st.integers(0, 40).map(float), st.sampled_from(["", "", "", "m"])
)


@given(st.lists(identities, max_size=120), st.integers(1, 20))
def test_it_never_forgets_without_saying_so(sent: list[Identity], most: int) -> None:
    known, truth = Known(most), set[Identity]()
    for identity in sent:
        if known.has(identity):
            assert identity in truth
        elif identity in truth:
            assert known.unsure(identity)
        else:
            known.add(identity)
            truth.add(identity)
    for identity in truth:
        assert known.has(identity) or known.unsure(identity)


def test_a_reading_costs_about_eight_bytes() -> None:
    known = Known(1000)
    for n in range(5000):
        known.add(Identity("a/x", float(n)))
    times = known._readings["a/x"].times
    assert len(times) <= 1125
    assert times.itemsize == 8
    assert known.unsure(Identity("a/x", 10.5))
    assert not known.unsure(Identity("a/x", 4999.5))
    assert not known.unsure(Identity("new/x", 1.0))
