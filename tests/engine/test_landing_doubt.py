"""What the landing leaves in doubt: each term by hand, and that it counts where it matters."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from fillmark.engine.budget import Term, combined_u_kg, probability_between
from fillmark.engine.delay import NO_DELAY, Delay
from fillmark.engine.job import Job
from fillmark.engine.landing_doubt import landing_doubt
from fillmark.engine.picture import picture
from fillmark.engine.reaction import Reaction
from fillmark.engine.setup import Setup
from fillmark.engine.weighing.trend import FLOW_SHARE_U

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

FLOW = 2e-3
LATE = Delay(least_s=0.3, usual_s=0.5, high_s=0.9)
LEARNT = Reaction.known(1.2, 0.3, 7)


@pytest.fixture
def flowing(make_bench: MakeBench) -> Bench:
    bench: Bench = make_bench().ready(gross=1.0)
    bench.valve("low", is_open=True)
    bench.run(60.0, flow=FLOW)
    return bench


def _terms(job: Job, delay: Delay, **setup: object) -> dict[str, Term]:
    """The terms of the job, had it another delay and setup."""
    changed: Setup = replace(job.course.setup, **setup)  # type: ignore[arg-type]  # fields by name
    timeline = replace(job.timeline, course=replace(job.course, setup=changed))
    doubt = landing_doubt(replace(job, delay=delay, timeline=timeline))
    assert doubt is not None
    return {term.name: term for term in doubt.terms}


def test_the_terms_by_hand(flowing: Bench) -> None:
    """Products of flow and a time's standard uncertainty: JCGM 100:2008, section 5.1.3. Rectangular: 4.3.7."""
    flow = flowing.job.course.pan.flow_kg_s
    assert flow == pytest.approx(FLOW, rel=0.05)
    terms = _terms(flowing.job, LATE)
    assert terms["reaction"].u_kg == pytest.approx(flow * 0.25 * 1.5)
    age_u, way_u = 0.3 / math.sqrt(3.0), (0.9 - 0.3) / math.sqrt(12.0)
    assert terms["timing"].u_kg == pytest.approx(flow * math.hypot(age_u, way_u))
    assert terms["flow"].u_kg >= FLOW_SHARE_U * flow * (1.5 + 0.5 - 0.3)
    assert not any(term.assumed for term in terms.values())


def test_the_landing_and_its_chance_are_made_of_all_terms(flowing: Bench) -> None:
    shown, doubt = flowing.job.picture, landing_doubt(flowing.job)
    assert shown.landing is not None
    assert doubt is not None
    assert doubt.u_kg == pytest.approx(combined_u_kg((*shown.budget, *doubt.terms)))
    assert doubt.u_kg > shown.charged.u_kg
    assert doubt.probability_in_window == probability_between(0.48, 0.52, shown.landing.if_called_kg, doubt.u_kg)


def test_a_learnt_reaction_has_the_way_of_the_call_in_it(flowing: Bench) -> None:
    assert LATE.shut_after_s(Reaction.declared(1.5)) == pytest.approx(1.5 + 0.2)
    assert LATE.shut_after_s(LEARNT) == pytest.approx(1.2)
    terms = _terms(flowing.job, LATE, reaction_time_s=None, reaction_learnt=LEARNT)
    flow = flowing.job.course.pan.flow_kg_s
    assert terms["timing"].u_kg == pytest.approx(flow * 0.3 / math.sqrt(3.0))
    assert terms["reaction"].u_kg == pytest.approx(flow * 0.3)
    assert (terms["reaction"].dof, terms["reaction"].assumed) == (11.0, False)


def test_the_landing_reckons_with_the_way_and_with_clocks_that_are_proven_apart(flowing: Bench) -> None:
    course, ahead = flowing.job.course, Delay(least_s=-3.0, usual_s=-2.9, high_s=-2.8)
    flow = course.pan.flow_kg_s
    lands = [picture(course, flowing.clock, delay).landing for delay in (NO_DELAY, ahead, LATE)]
    usual, apart, late = (one for one in lands if one is not None)
    assert apart.if_shut_kg - usual.if_shut_kg == pytest.approx(flow * 3.0)
    assert apart.if_called_kg - usual.if_called_kg == pytest.approx(flow * (3.0 + 0.1))
    assert late.if_shut_kg == usual.if_shut_kg
    assert late.if_called_kg - usual.if_called_kg == pytest.approx(flow * 0.2)


def test_nobody_known_is_marked_as_assumed(flowing: Bench) -> None:
    terms = _terms(flowing.job, NO_DELAY, reaction_time_s=None)
    assert [name for name, term in terms.items() if term.assumed] == ["reaction"]


def test_while_the_valve_is_shut_nothing_of_it_is_in_doubt(flowing: Bench) -> None:
    flowing.valve("low", is_open=False)
    doubt = landing_doubt(flowing.job)
    assert doubt is not None
    assert [term.u_kg for term in doubt.terms] == [0.0, 0.0, 0.0]
    assert doubt.u_kg == pytest.approx(flowing.job.picture.charged.u_kg)


def test_before_anything_was_read_there_is_no_landing(make_bench: MakeBench) -> None:
    assert landing_doubt(make_bench().open_job().job) is None
