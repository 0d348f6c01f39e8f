"""What is remembered of the log, against a plain set."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from fillmark.api.known import Known
from fillmark.store.log import Identity

identities = st.builds(
    Identity, st.sampled_from(["a/x", "b/x"]), st.integers(0, 40).map(float), st.sampled_from(["", "", "", "m"])
)


@given(st.lists(identities, max_size=120), st.integers(1, 20), st.integers(0, 120), st.integers(0, 30))
def test_it_never_forgets_without_saying_so(sent: list[Identity], most: int, resumed: int, lag: int) -> None:
    """Also where it begins after a part of the log, and is told that all but the newest is in the log."""
    known, truth = Known(most), set(sent[:resumed])
    for channel in {identity.channel for identity in truth}:
        known.forget_to(channel, max(identity.time_s for identity in truth if identity.channel == channel))
    log: list[Identity] = list(truth)
    for identity in sent[resumed:]:
        if known.has(identity):
            assert identity in truth
        elif identity in truth:
            assert known.unsure(identity)
        else:
            log.append(identity)
            known.settle(len(log) - lag)
            known.add(identity, len(log))
            truth.add(identity)
    for identity in truth:
        assert known.has(identity) or known.unsure(identity)


def test_a_reading_costs_about_eight_bytes() -> None:
    known = Known(1000)
    for n in range(5000):
        known.add(Identity("a/x", float(n)), n)
    times = known._channels["a/x"].times
    assert len(times) <= 1125
    assert times.itemsize == 8
    assert known.unsure(Identity("a/x", 10.5))
    assert not known.unsure(Identity("a/x", 4999.5))
    assert not known.unsure(Identity("new/x", 1.0))


def test_what_only_the_log_could_tell_is_remembered_until_it_can() -> None:
    known, late = Known(1000), Identity("a/x", 1.0)
    known.forget_to("a/x", 5.0)
    assert known.unsure(Identity("a/x", 5.0))
    assert not known.unsure(Identity("a/x", 5.000001))
    known.add(late, 7)
    known.settle(6)
    assert known.has(late)
    known.settle(7)
    assert not known.has(late)
    assert known.unsure(late)
