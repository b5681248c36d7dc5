"""Places: ranking, exact chances against three independent calculations, gaps and whose time."""

from dataclasses import replace
from itertools import combinations
from math import prod

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.stats import norm

from racecalc.decisions.places import (
    Goals,
    Own,
    PlaceChances,
    Places,
    Rivals,
    Tried,
    chance_within,
    counts,
    listed,
    place_chances,
    place_of,
    places,
    predicted,
    rivals,
    tried_option,
    tried_set,
)
from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.timing import MODEL_ERROR
from racecalc.domain.option import Option, Restrictions, read_saving
from racecalc.domain.race import Doubts
from racecalc.errors import InputError
from racecalc.files.table_kinds import Finisher, ResultsTable, Unplaced
from tests.builders import race

EXACT = 1e-12

LIST = (1391.0, 1399.0, 1402.0, 1408.0, 1411.0, 1415.0, 1419.0, 1421.0, 1426.0)
"""The list of the trade's worked example; 1416.9 s is 7th in it and 9.2 s less is 4th (counted by
hand)."""

TIMES = np.array(LIST)


@pytest.fixture(scope="module")
def base() -> Ridden:
    return ride(race())


def field(times: tuple[float, ...] = LIST, spread: float = 0.0) -> Rivals:
    return Rivals("list.csv", tuple(f"rider {time:g}" for time in times), times, spread)


def asked(base: Ridden, *tried: Tried, own: Own | None = None, **changes: object) -> Places:
    given = {"field": field(), "goals": Goals(), "singles": tried, **changes}
    return places(base, own=own or Own(1416.9, listed_as="me"), tried=tried, **given)


# --- places ---------------------------------------------------------------------------------


def test_the_worked_example(base):
    found = asked(base, Tried("suit", 9.2, 1.0))
    without, (with_it,) = found.without, found.options
    assert (without.place, with_it.place, with_it.gained) == (7, 4, 3)
    assert with_it.time_s == pytest.approx(1407.7, abs=1e-9)


@pytest.mark.parametrize(
    ("time", "place"), [(1399.0, 1), (1400.0, 2), (1400.5, 4), (1401.0, 4), (1402.0, 5)]
)
def test_dead_heats_share_a_place_and_the_next_falls_out(time: float, place: int):
    # The athlete makes it three at 1400 s: 2nd, and the next rider is 5th.
    rivals_in = np.array([1399.5, 1400.0, 1400.0, 1401.0])
    assert place_of(time, rivals_in) == place


def test_who_shares_the_place_is_named(base):
    found = asked(base, Tried("suit", 8.0, None), own=Own(1416.0, listed_as="me"),
                  field=field((1391.0, 1408.0, 1408.0)))  # fmt: skip
    assert found.without.shared_with == ()
    assert found.options[0].shared_with == ("rider 1408", "rider 1408")
    assert found.options[0].place == 2


# --- chances --------------------------------------------------------------------------------


@pytest.mark.parametrize("own", [0.0, 0.01, 1.5, 6.0, 300.0])
@pytest.mark.parametrize("spread", [0.0, 0.02, 2.0, 6.0, 200.0])
@pytest.mark.parametrize("ahead", [-5.0, 0.3, 4.0])
def test_two_riders_by_the_formula(own: float, spread: float, ahead: float):
    # Formula: the difference of two independent normal times is normal.
    expected = norm.cdf(ahead / np.hypot(own, spread)) if own or spread else float(ahead > 0)
    first, second = place_chances(1400.0 - ahead, own, np.array([1400.0]), spread)
    # Rivals who vary less than a hundredth as much as the athlete are counted on a coarse grid.
    coarse = 0 < 100 * spread < own
    assert first == pytest.approx(expected, abs=0.002 if coarse else EXACT)
    assert first + second == pytest.approx(1.0, abs=EXACT)


def test_the_count_against_every_subset():
    # Independent calculation: enumeration of who is ahead.
    ahead = np.array([[0.03, 0.5, 0.98, 0.7, 0.21], [0.0, 1.0, 0.4, 0.4, 0.4]])
    for chances, found in zip(ahead, counts(ahead), strict=True):
        expected = [
            sum(
                prod(chance if one in those else 1 - chance for one, chance in enumerate(chances))
                for those in combinations(range(5), size)
            )
            for size in range(6)
        ]
        np.testing.assert_allclose(found, expected, atol=EXACT)


def test_the_count_against_the_binomial_distribution():
    # Independent calculation: equal chances give scipy's binomial distribution.
    expected = stats.binom.pmf(np.arange(41), 40, 0.3)
    np.testing.assert_allclose(counts(np.full((1, 40), 0.3))[0], expected, atol=EXACT)


@pytest.mark.skipif(not hasattr(stats, "poisson_binom"), reason="scipy has it from 1.15 on")
def test_the_count_against_scipy():
    # Independent calculation: scipy's Poisson-binomial distribution.
    chances = np.linspace(0.01, 0.99, 25)
    expected = stats.poisson_binom.pmf(np.arange(26), chances)
    np.testing.assert_allclose(counts(chances[None, :])[0], expected, atol=EXACT)


def test_equal_riders_have_equal_chances():
    # By symmetry: eleven riders with the same normal time each get every place with 1/11.
    np.testing.assert_allclose(
        place_chances(1400.0, 6.0, np.full(10, 1400.0), 6.0), 1 / 11, atol=1e-10
    )


@pytest.mark.parametrize(("own", "spread"), [(3.0, 0.0), (3.0, 6.0), (20.0, 0.3), (0.0, 6.0)])
def test_chances_against_a_simulation(own: float, spread: float):
    # Independent calculation: 200,000 races drawn at random; 4.5 standard errors.
    draws, random = 200_000, np.random.default_rng(7)
    mine = 1412.0 + own * random.standard_normal((draws, 1))
    theirs = TIMES + spread * random.standard_normal((draws, len(TIMES)))
    drawn = np.bincount((theirs < mine).sum(axis=1), minlength=len(TIMES) + 1) / draws
    found = place_chances(1412.0, own, TIMES, spread)
    assert np.all(np.abs(found - drawn) <= 4.5 * np.sqrt(found * (1 - found) / draws) + 1e-9)


def test_between_fixed_rivals_the_chance_is_that_of_the_gap():
    # Formula: 4th lies between the third and the fourth rival.
    found = place_chances(1407.7, 1.4, TIMES, 0.0)
    expected = norm.cdf((1408.0 - 1407.7) / 1.4) - norm.cdf((1402.0 - 1407.7) / 1.4)
    assert found[3] == pytest.approx(expected, abs=EXACT)


def test_a_small_spread_joins_the_fixed_list():
    fixed = place_chances(1412.0, 4.0, TIMES, 0.0)
    np.testing.assert_allclose(place_chances(1412.0, 4.0, TIMES, 1e-6), fixed, atol=0.002)


def test_a_long_list_is_counted_within_reach_only():
    # Independent calculation: the count over every rider of the list.
    from scipy.integrate import quad

    many = np.linspace(3000.0, 4200.0, 241)
    found = place_chances(3500.0, 4.0, many, 5.0)

    def integrand(time: float, place: int) -> float:
        ahead = norm.cdf((time - many) / 5.0)[None, :]
        return float(counts(ahead)[0, place - 1] * norm.pdf(time, 3500.0, 4.0))

    for place in (99, 101, 103):
        expected = quad(integrand, 3460.0, 3540.0, args=(place,), epsabs=1e-10)[0]
        assert found[place - 1] == pytest.approx(expected, abs=1e-9)


seconds = st.floats(1300.0, 1500.0)


@given(
    times=st.lists(seconds, min_size=1, max_size=12),
    time=seconds,
    faster=st.floats(0.0, 60.0),
    own=st.sampled_from([0.0, 0.5, 4.0, 30.0]),
    spread=st.sampled_from([0.0, 0.5, 4.0, 30.0]),
)
def test_more_seconds_never_lower_the_chance_of_a_place_or_better(
    times: list[float], time: float, faster: float, own: float, spread: float
):
    chances = place_chances(time, own, np.array(times), spread)
    better = place_chances(time - faster, own, np.array(times), spread)
    assert chances.sum() == pytest.approx(1.0, abs=EXACT)
    assert chances.min() >= 0
    assert np.all(np.cumsum(better) >= np.cumsum(chances) - 1e-9)


def test_podium_target_and_mean_place_by_the_formula(base):
    (found,) = asked(base, Tried("suit", 9.2, 1.4), goals=Goals(podium=4, target_s=1406.0)).options
    # Formula: top 4 unless slower than the fourth rival; target: slower or not.
    assert found.chances.chance_podium == pytest.approx(norm.cdf(0.3 / 1.4), abs=1e-9)
    assert found.chances.chance_place_or_better == found.chances.chance_podium
    assert found.chances.chance_target == pytest.approx(norm.cdf(-1.7 / 1.4), abs=1e-9)
    # Formula: the mean place is one more than the mean number of rivals ahead.
    mean = 1 + norm.cdf((1407.7 - TIMES) / 1.4).sum()
    assert found.chances.expected_place == pytest.approx(mean, abs=1e-9)


def test_a_time_in_no_doubt_meets_its_target_when_equal():
    assert chance_within(1400.0, 0.0, 1400.0) == 1.0
    assert chance_within(1400.1, 0.0, 1400.0) == 0.0


# --- doubts ---------------------------------------------------------------------------------


def test_an_unstated_doubt_gives_a_place_and_no_chance(base):
    answer = asked(base, Tried("box", 9.2, None))
    (found,) = answer.options
    assert (found.place, found.chances, found.certain) == (4, PlaceChances(), False)
    assert answer.without.certain


def test_doubts_of_time_and_saving_add_in_quadrature(base):
    found = asked(base, Tried("suit", 9.2, 3.0), own=Own(1416.9, 4.0), goals=Goals(target_s=1400.0))
    # Formula: hypot(3, 4) = 5.
    assert found.options[0].chances.chance_target == pytest.approx(norm.cdf(-7.7 / 5))


def test_a_predicted_time_is_in_doubt_by_the_model_at_least(base):
    own = predicted(base)
    assert (own.time, own.listed_as) == (base.time, None)
    # Independent calculation: the same power less 2.7 W, by full solves to either side.
    slower, faster = (
        ride(race(power=250.0 + step)).time for step in (-0.5 * MODEL_ERROR, 0.5 * MODEL_ERROR)
    )
    assert own.doubt == pytest.approx(slower - faster, rel=1e-3)


def test_stated_doubts_widen_a_predicted_time(base):
    in_doubt = predicted(ride(race(doubts=Doubts(power=6.0))))
    # Formula: 6 W and the model's 2.7 W in quadrature; 20,000 draws know that to about 1 %.
    ratio = np.hypot(6.0, MODEL_ERROR) / MODEL_ERROR
    assert in_doubt.doubt == pytest.approx(ratio * predicted(base).doubt, rel=0.03)
    assert in_doubt.doubt_from == ("power",)


def test_options_and_sets_come_from_the_same_solves_as_their_value(base):
    from racecalc.decisions.value import value_of_set
    from racecalc.decisions.worth import worth_of

    one = Option("one", saves=read_saving("0.004 m^2"), doubt=read_saving("0.001 m^2"))
    other = replace(one, name="other", restrictions=Restrictions(rules="forbidden"))
    alone, both = tried_option(base, one), tried_set(base, (one, other), ())
    worth, joint = worth_of(base, one), value_of_set(base, (one, other))
    assert (alone.saved_s, alone.doubt_s) == (worth.saved_s, worth.doubt_s)
    assert (both.saved_s, both.doubt_s) == (joint.saved_s, joint.doubt_s)
    assert (both.name, both.forbidden, both.untested_set) == ("one + other", True, True)
    assert (alone.forbidden, alone.untested_set) == (False, False)


# --- gaps -----------------------------------------------------------------------------------


def test_what_its_owner_does_not_want_closes_no_gap(base):
    disliked = Option(
        "cuffs", saves=read_saving("0.01 m^2"), restrictions=Restrictions(least_gain=90.0)
    )
    tried = tried_option(base, disliked)
    assert tried.unwished == "it is worth less than the 90 W you want of it"
    found = asked(base, tried)
    assert all(gap.options == () for gap in found.gaps)
    assert f"cuffs is not suggested to close a gap: {tried.unwished}." in found.cautions


def test_the_ladder_from_where_the_athlete_stands(base):
    small, large = Tried("small", 2.0, 0.5), Tried("large", 9.2, None)
    banned = Tried("banned", 50.0, 1.0, forbidden=True)
    found = asked(base, small, large, banned, goals=Goals(target_s=1400.0))
    # Counted by hand from 1416.9 s.
    assert [(gap.goal, gap.place) for gap in found.gaps] == [
        *(("place", place) for place in (6, 5, 4, 3, 2)),
        ("podium", 3),
        ("target", 3),
    ]
    np.testing.assert_allclose(
        [gap.gap_s for gap in found.gaps], [1.9, 5.9, 8.9, 14.9, 17.9, 14.9, 16.9]
    )
    assert [gap.options for gap in found.gaps[:4]] == [
        ("large", "small"), ("large",), ("large",), ()
    ]  # fmt: skip
    assert found.gaps[0].options_without_doubt == ("large",)
    assert found.gaps[0].rivals == ("rider 1415",)
    assert found.gaps[-1].rivals == ()


def test_the_watts_of_a_gap_save_its_seconds(base):
    gap = asked(base).gaps[2]
    assert gap.watts_w is not None
    # Independent calculation: the race ridden with that much more power.
    assert base.time - ride(race(power=250.0 + gap.watts_w)).time == pytest.approx(8.9, abs=1e-5)


def test_no_watts_where_no_power_reaches_it(base):
    own = Own(base.time + 100.0, listed_as="me")
    found = asked(
        base, own=own, field=field((50.0, 100.5, 0.65 * base.time)), goals=Goals(podium=4)
    )
    half, hardly, beyond = found.gaps
    assert half.watts_w is not None
    assert half.watts_w > 1000
    assert hardly.gap_s < base.time < beyond.gap_s
    assert (hardly.watts_w, beyond.watts_w) == (None, None)


def test_what_is_in_hand_is_negative_and_needs_no_option(base):
    found = asked(base, Tried("suit", 9.2, 1.0), own=Own(1400.0, listed_as="me"))
    podium = found.gaps[-1]
    assert (podium.goal, podium.gap_s, podium.options) == ("podium", -2.0, ())


def test_no_podium_where_everybody_is_on_it(base):
    found = asked(base, field=field(LIST[:2]))
    assert all(gap.goal != "podium" for gap in found.gaps)
    found = asked(base, field=field(LIST[:3]))
    assert found.gaps[-1].goal == "podium"


# --- who is who -----------------------------------------------------------------------------

RESULTS = ResultsTable(
    source="list.csv",
    finishers=(
        Finisher("Oske", 1391.0, "A"),
        Finisher("Runa", 1399.0, "B"),
        Finisher("Ilve", 1402.0, "A"),
    ),
    unplaced=(Unplaced("Tarn", "DNF", "A"), Unplaced("Vesk", "DNS", "B")),
    notes=("odd",),
)


def test_the_athlete_is_no_rival_of_their_own():
    found = rivals(RESULTS, me="Runa")
    assert (found.names, found.times) == (("Oske", "Ilve"), (1391.0, 1402.0))
    assert found.unplaced == {"DNF": 1, "DNS": 1}
    assert found.notes == ("odd",)
    assert listed(RESULTS, "Runa") == Own(1399.0, 0.0, "Runa")


def test_a_category_counts_alone():
    found = rivals(RESULTS, category="A")
    assert found.names == ("Oske", "Ilve")
    assert found.unplaced == {"DNF": 1}


@pytest.mark.parametrize(
    ("me", "category", "said"),
    [
        ("runa", "", "'runa' is not in list.csv; did you mean 'Runa'?"),
        ("Nobody at all", "", "write the name as in the list"),
        ("Tarn", "", "'Tarn' has no time in list.csv (DNF)"),
        ("Runa", "A", "'Runa' rides in 'B', not in 'A'"),
    ],
)
def test_whose_time_it_is_must_be_clear(me: str, category: str, said: str):
    with pytest.raises(InputError) as caught:
        listed(RESULTS, me, category)
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("me", "category", "said"),
    [
        ("", "C", "'C' is not a category of list.csv; known: A, B"),
        ("Runa", "B", "nobody else has a time in the category 'B'"),
    ],
)
def test_there_must_be_rivals(me: str, category: str, said: str):
    with pytest.raises(InputError) as caught:
        rivals(RESULTS, me, category)
    assert said in str(caught.value)


def test_a_list_without_categories_says_so():
    bare = ResultsTable("list.csv", (Finisher("Oske", 1391.0), Finisher("Runa", 1399.0)))
    with pytest.raises(InputError, match="the list states none"):
        rivals(bare, category="A")


# --- what is said ---------------------------------------------------------------------------


def test_another_course_is_noticed(base):
    assert "is it the same course?" in asked(base).notes[0]
    near = tuple(base.time + step for step in (-50.0, 20.0))
    assert asked(base, own=predicted(base), field=field(near)).notes == ()
    assert asked(base, own=Own(1.05 * base.time, listed_as="me"), field=field(near)).notes == ()
    assert asked(base, own=Own(1.2 * base.time, listed_as="me"), field=field(near)).notes


def test_cautions_say_what_is_not_in_the_chances(base):
    of_the_day = " ".join(asked(base, Tried("both", 3.0, 1.0, untested_set=True)).cautions)
    assert "not for that day" in of_the_day
    assert "--rivals" in of_the_day
    assert "drafts" in of_the_day
    assert "only a test of the whole set" in of_the_day
    added = asked(base, own=predicted(base), field=field(spread=6.0)).cautions
    assert "other weather" in added[0]
    assert "2.7 W" in added[0]
    assert "deviation of 6 s (normal, independent" in added[1]
    banned = asked(base, Tried("fairing", 30.0, 1.0, forbidden=True)).cautions
    assert "Forbidden by the rules, as the race file says: fairing." in banned
