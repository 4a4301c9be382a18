"""The epidemic curve against closed forms."""

from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from surge_sim.demand.curve import epidemic_admissions, epidemic_course
from surge_sim.demand.draw import draw_demand
from surge_sim.scenario.load import scenario_from_text
from surge_sim.scenario.patients import Epidemic
from tests.scenario.base import BASE

DAY_S = 86_400

# Kermack and McKendrick, Proc R Soc Lond A 1927;115:700-721: final size z = 1 - exp(-R0 z) and
# greatest prevalence 1 - (1 + ln R0) / R0, worked out for these R0
CLOSED_FORM = {
    1.5: (0.582812, 0.063023),
    2.0: (0.796812, 0.153426),
    3.0: (0.940480, 0.300463),
    5.0: (0.993023, 0.478112),
}


def epidemic(**changes):
    plain = dict(
        population=10**8, reproduction_number=2.0, latent="0 d", infectious="4 d",
        admitted="100 %", first_cases=1,
    )  # fmt: skip
    return Epidemic.model_validate(plain | changes)


@pytest.mark.parametrize("reproduction", CLOSED_FORM)
def test_peak_and_final_size_without_a_latent_time(reproduction):
    course = epidemic_course(epidemic(reproduction_number=reproduction), 600 * DAY_S)
    susceptible, _, infectious = course(np.linspace(0, 600 * DAY_S, 100_000))
    final, peak = CLOSED_FORM[reproduction]
    assert_allclose([1 - susceptible[-1], infectious.max()], [final, peak], atol=2e-6)


@pytest.mark.parametrize("reproduction", CLOSED_FORM)
def test_latent_time_keeps_the_final_size(reproduction):
    """Arino et al., Math Biosci Eng 2007;4:159-175."""
    slow = epidemic(reproduction_number=reproduction, latent="3 d")
    susceptible, exposed, _ = epidemic_course(slow, 1_500 * DAY_S)(np.array([1_500.0 * DAY_S]))
    assert 1 - susceptible[0] == pytest.approx(CLOSED_FORM[reproduction][0], abs=2e-6)
    assert exposed[0] < 1e-9


def test_a_latent_time_slows_the_growth():
    """At first R0 = (1 + r latent)(1 + r infectious): Wallinga and Lipsitch, Proc R Soc B 2007;
    274:599-604. With 2, 3 d and 4 d: 12 r^2 + 7 r - 1 = 0, so r = 0.118702 a day.
    """
    course = epidemic_course(epidemic(latent="3 d", first_cases=1), 200 * DAY_S)
    infectious = course(np.array([40.0, 50.0]) * DAY_S)[2]
    assert np.log(infectious[1] / infectious[0]) / 10 == pytest.approx(0.118702, abs=1e-4)


def test_a_scenario_without_a_latent_time_draws_patients():
    text = BASE.replace(
        "arrivals: {baseline: 1 per day, initial_census: 1}",
        "arrivals: {epidemic: {population: 20000, reproduction_number: 2, latent: 0 d, "
        "infectious: 2 d, admitted: 5 %, first_cases: 20}}",
    )
    scenario = scenario_from_text(text)
    assert draw_demand(scenario).entries > 0


def test_admissions_are_the_admitted_share_of_all_infections():
    edges_s = np.arange(0, 900 * DAY_S + 1, DAY_S)
    patients = epidemic_admissions(epidemic(latent="2 d", admitted="3 %"), edges_s)
    assert patients.sum() == pytest.approx(0.03 * 10**8 * CLOSED_FORM[2.0][0], rel=1e-5)
    assert (patients >= 0).all()


def test_admission_comes_so_long_after_the_onset():
    edges_s = np.arange(0, 200 * DAY_S + 1, DAY_S)
    at_once = epidemic_admissions(epidemic(), edges_s)
    later = epidemic_admissions(epidemic(onset_to_admission="5 d"), edges_s)
    assert_allclose(later[5:], at_once[:-5], atol=1e-6)
    assert_allclose(later[:5], 0)


def test_admissions_are_those_who_fall_ill_by_small_steps():
    """Each minute 2 / 4 d x S x I are infected, and 1 / 2 d of the exposed fall ill; in 10 days."""
    people, minutes = 10_000, 10 * 1_440
    one = epidemic(population=people, latent="2 d", first_cases=100, admitted="30 %")
    susceptible, exposed, infectious = 0.99, 0.0, 0.01
    by_minute = []
    for _ in range(minutes):
        infected = 2 / (4 * 1_440) * susceptible * infectious
        ill = exposed / (2 * 1_440)
        susceptible -= infected
        exposed += infected - ill
        infectious += ill - infectious / (4 * 1_440)
        by_minute.append(0.3 * people * ill)
    edges_s = np.arange(11) * DAY_S
    expected = np.array(by_minute).reshape(10, 1_440).sum(axis=1)
    assert_allclose(epidemic_admissions(one, edges_s), expected, rtol=2e-3)
    # and so in one slot, from the first second to the last
    assert epidemic_admissions(one, edges_s[[0, -1]]) == pytest.approx(expected.sum(), rel=2e-3)


def test_whoever_falls_ill_in_the_first_second_is_admitted():
    """Of 10**8 people a million are ill: 2 / 4 d x 0.99 of them infect somebody in a second."""
    found = epidemic_admissions(epidemic(first_cases=10**6), np.array([0, 1, 2]))
    assert_allclose(found, 2 / (4 * DAY_S) * 0.99 * 10**6, rtol=1e-4)


@pytest.mark.parametrize(("first", "ill"), [(100, 0.1), (800, 0.5)])
def test_the_first_cases_are_taken_from_those_not_immune(first, ill):
    """A thousand people, half of them immune: no more than the others can be ill."""
    half = epidemic(population=1_000, immune="50 %", first_cases=first)
    at_first = epidemic_course(half, DAY_S)(np.array([0.0]))[:, 0]
    assert_allclose(at_first, [0.5 - ill, 0, ill], atol=1e-12)


def test_equations_without_a_solution_are_told(monkeypatch):
    failed = SimpleNamespace(
        success=False, sol=lambda at_s: at_s, message="no step is small enough"
    )
    monkeypatch.setattr("scipy.integrate.solve_ivp", lambda *_, **__: failed)
    with pytest.raises(ValueError, match="no solution: no step is small enough"):
        epidemic_course(epidemic(population=777), DAY_S)


def test_immune_people_lower_the_reproduction_number():
    """Of 10**8 people half are immune: the others see an epidemic of R0 = 1.5."""
    half = epidemic(reproduction_number=3.0, immune="50 %")
    susceptible = epidemic_course(half, 900 * DAY_S)(np.array([900.0 * DAY_S]))[0, 0]
    assert (0.5 - susceptible) / 0.5 == pytest.approx(CLOSED_FORM[1.5][0], abs=1e-5)


def test_below_a_reproduction_number_of_one_nothing_spreads():
    edges_s = np.arange(0, 100 * DAY_S + 1, DAY_S)
    dying_out = epidemic(reproduction_number=0.5, first_cases=1_000)
    # each case infects half a case: 1000 x (1/2 + 1/4 + ...) = 1000
    assert epidemic_admissions(dying_out, edges_s).sum() == pytest.approx(1_000, rel=1e-3)
    assert epidemic_admissions(epidemic(first_cases=0), edges_s).sum() == 0
