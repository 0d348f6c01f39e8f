"""Anything in any order: named refusals only, plain JSON without NaN, no negative doubt, the clock never back."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any, get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fillmark.engine import events as ev
from fillmark.engine.errors import ActionRefusedError
from fillmark.engine.events import Entry, Event
from fillmark.engine.setup import Aim, Circuit, Hose, Limits, Scale, Setup
from fillmark.engine.stop_points import STOP_POINTS
from fillmark.engine.view import glance, job_view, lives
from fillmark.engine.workshop import Workshop, step
from fillmark.refrigerants import facade

if TYPE_CHECKING:
    from fillmark.engine.job import Job

# What passes the wire: finite numbers of the width that it lets through.
times = st.one_of(st.integers(0, 400).map(float), st.floats(0.0, 400.0))
masses = st.one_of(st.sampled_from([0.0, 1e-3, 0.02, 0.34, 1.0, 50.0]), st.floats(0.0, 2000.0))
maybe_mass = st.none() | masses
fluids = st.sampled_from(["R-134a", "R-1234yf", "R-744", "R-454C"])

setups = st.builds(
    lambda fluid, low, width, aim, length, bore, shutoff, step_kg, capacity, altitude, gauge: Setup(
        circuit=Circuit(facade.get(fluid), low, low + width + 1e-3, 2e-3),
        scale=Scale(step_kg, None, capacity, None),
        aim=aim,
        hose=None if length is None else Hose(length, bore, shutoff),
        limits=Limits(25e5, None, None),
        altitude_m=altitude,
        gauge_all=gauge,
    ),
    fluids,
    st.floats(0.0, 50.0),
    st.floats(0.0, 1.0),
    st.sampled_from(list(Aim)),
    st.none() | st.sampled_from([0.0, 1.8, 49.0]),
    st.sampled_from([0.0, 4.8e-3, 0.049]),
    st.booleans(),
    st.sampled_from([1e-5, 1e-3, 5e-3, 10.0]),
    st.none() | masses,
    st.none() | st.floats(-1e4, 1e5),
    st.booleans(),
)

ranges = {
    "scale/mass": (-0.05, 2000.0),
    "scale/stable": (0.0, 1.0),
    "low/pressure": (-110e3, 40e6),
    "high/pressure": (-110e3, 40e6),
    "ambient/temperature": (-100.0, 300.0),
    "container/temperature": (-100.0, 300.0),
    "ambient/pressure": (-110e3, 40e6),
    "ambient/humidity": (0.0, 110.0),
}
readings = st.one_of(
    *[st.builds(ev.Reading, times, st.just(name), st.floats(*bounds)) for name, bounds in ranges.items()],
    st.builds(lambda t, m: ev.Reading(t, "scale/mass", m), times, st.sampled_from([1.0, 0.999, 0.99, 0.9, 0.5, 0.0])),
)
actions: st.SearchStrategy[Event] = st.one_of(
    st.builds(ev.OpenJob, times, setups),
    st.builds(ev.CloseJob, times),
    st.builds(ev.BeginStep, times, st.sampled_from(["charging", "charging", "evacuation", "recovery", "nonsense"])),
    st.builds(ev.EndStep, times),
    st.builds(
        ev.MountContainer,
        times,
        st.sampled_from(["C1", "C2"]),
        st.sampled_from(get_args(ev.Draw)),
        st.none() | fluids,
        maybe_mass,
        maybe_mass,
        maybe_mass,
        masses,
    ),
    st.builds(ev.UnmountContainer, times),
    st.builds(ev.SetValve, times, st.sampled_from(get_args(ev.ValveName)), st.booleans()),
    st.builds(ev.PurgeHose, times, maybe_mass),
    st.builds(ev.SetEngine, times, st.booleans()),
    st.builds(ev.RecoverHose, times, maybe_mass),
    st.builds(ev.ExplainStep, times, st.sampled_from(["refrigerant", "handling"])),
    st.builds(ev.CorrectCharge, times, st.floats(-50.0, 50.0), st.just("why")),
    st.builds(ev.Note, times, st.text(max_size=5)),
    st.builds(
        ev.TreatStopPoint,
        times,
        st.sampled_from(["acknowledge", "reset", "shelve", "unshelve"]),
        st.sampled_from([*STOP_POINTS, "nonsense"]),
        st.sampled_from(["", "C1", "scale/mass"]),
        st.floats(0.0, 1e9),
    ),
)
entries = st.lists(
    st.tuples(times, st.lists(st.one_of(readings, readings, actions), max_size=6)), min_size=1, max_size=25
)


def _sane(job: Job) -> None:
    view = job_view(job)
    json.dumps([view, glance(job, job.bay), lives(job)], allow_nan=False)
    budget: Any = view["budget"]
    assert all(term["u_kg"] >= 0.0 for term in budget)
    for name in ("charged_u_kg", "dispensed_u_kg"):
        u = view[name]
        assert isinstance(u, float)
        assert u >= 0.0
    probability = view["probability_in_window"]
    assert isinstance(probability, float)
    assert 0.0 <= probability <= 1.0
    assert job.wake_at_s is None or (math.isfinite(job.wake_at_s) and job.wake_at_s > job.now_s)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(setup=setups, log=entries)
def test_any_sequence_is_taken_or_refused_by_name(setup: Setup, log: list[tuple[float, list[Event]]]) -> None:
    state = Workshop()
    state, _ = step(state, Entry(1, 0.0, "bay-1", (ev.OpenJob(0.0, setup), ev.MountContainer(0.0, "C1"))))
    for received_s, sent in log:
        for part in (sent, *([event] for event in sent)):
            before = state
            try:
                state, _ = step(state, Entry(state.position + 1, received_s, "bay-1", tuple(part)))
            except ActionRefusedError:
                assert state is before
                continue
            for job in state.jobs.values():
                _sane(job)
            if part is sent:
                break


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(setup=setups, log=entries)
def test_a_log_without_what_was_refused_gives_the_same_state(
    setup: Setup, log: list[tuple[float, list[Event]]]
) -> None:
    """A service writes what it accepted; folding that again must come to the same place, refusing nothing."""
    first = Entry(1, 0.0, "bay-1", (ev.OpenJob(0.0, setup), ev.MountContainer(0.0, "C1")))
    state, kept = step(Workshop(), first)[0], [first]
    for received_s, sent in log:
        entry = Entry(state.position + 1, received_s, "bay-1", tuple(sent))
        try:
            state, _ = step(state, entry)
        except ActionRefusedError:
            continue
        kept.append(entry)
    again = Workshop()
    for entry in kept:
        again, _ = step(again, entry)
    assert again == state


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(setup=setups, log=entries)
def test_a_pack_of_readings_alone_is_never_refused(setup: Setup, log: list[tuple[float, list[Event]]]) -> None:
    """However late: readings refold the actions behind them, and none of those may become unlawful."""
    state, _ = step(Workshop(), Entry(1, 0.0, "bay-1", (ev.OpenJob(0.0, setup), ev.MountContainer(0.0, "C1"))))
    held: list[Event] = []
    for received_s, sent in log:
        held += [event for event in sent if isinstance(event, ev.Reading)]
        acts = tuple(event for event in sent if not isinstance(event, (ev.Reading, ev.CloseJob, ev.OpenJob)))
        try:
            state, _ = step(state, Entry(state.position + 1, received_s, "bay-1", acts))
        except ActionRefusedError:
            continue
    for event in held:
        state, _ = step(state, Entry(state.position + 1, 400.0, "bay-1", (event,)))
    _sane(state.jobs["bay-1.1"])


@pytest.mark.parametrize("value", [0.0, -0.05, 2000.0, 1e-300])
def test_extremes_that_the_wire_lets_through(value: float) -> None:
    setup = Setup(Circuit(facade.get("R-134a"), 0.5, 0.5), Scale(1e-3), hose=Hose(1.8, 4.8e-3))
    state, _ = step(Workshop(), Entry(1, 0.0, "b", (ev.OpenJob(0.0, setup), ev.MountContainer(0.0, "C1"))))
    for index in range(20):
        reading = ev.Reading(float(index), "scale/mass", value if index % 3 else 0.5)
        state, _ = step(state, Entry(index + 2, float(index), "b", (reading,)))
    _sane(state.jobs["b.1"])
