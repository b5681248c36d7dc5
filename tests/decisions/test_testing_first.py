"""Buy now or test first: worked examples, limits, sensitivity, and what is left out."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, trapezoid
from scipy.stats import norm, t

from racecalc.decisions.deciding import (
    Action,
    Case,
    action_of,
    best_test,
    case_of,
    decide,
    pays,
    perfect_knowledge,
    proposal,
    untested,
)
from racecalc.decisions.information import (
    PricedQuestion,
    Prospect,
    Scatter,
    gain_for_two,
    preposterior_sd,
)
from racecalc.decisions.riding import Ridden, multiple_needed, ride
from racecalc.decisions.worth import amount_in_seconds, worth_of
from racecalc.domain.option import Holding, Option, Ownership, Restrictions, Saving, read_saving
from racecalc.domain.race import Change
from racecalc.errors import InputError
from racecalc.quantities.money import Money
from tests.builders import euros, race, steady_start


def prospect(
    name: str, saved: float, doubt: float, price: float = 0.0, error: float | None = 4.0
) -> Prospect:
    by = "bought" if price else "free"
    return Prospect(name, "slot", saved, doubt, price, by, error, "made up", "made up")


def case(*prospects: Prospect, per_second: float = 20.0, **asked: object) -> Case:
    question = PricedQuestion(**{"per_second": euros(per_second), "whole_test": True, **asked})
    return case_of("slot", prospects, question)


GLOVES = prospect("gloves", 6.0, 8.0, 150.0, 4.0)
"""Long cuffs of the worked example: 6 s +- 8 s for 150, a test good to 4 s."""


class TestWorkedExample:
    """A second is worth 20, a test costs 25 (independent calculation)."""

    CASE = case(GLOVES, fee=euros(25))

    def test_numbers(self):
        test = best_test(self.CASE)
        assert self.CASE.worths[0] == pytest.approx(-30.0)
        assert perfect_knowledge(self.CASE).worth == pytest.approx(50.0, abs=0.5)
        assert test.gain.worth == pytest.approx(43.0, abs=1.0)
        assert test.net == pytest.approx(18.0, abs=1.0)

    def test_verdict(self):
        assert action_of(self.CASE) == Action("test", ("gloves",))
        assert untested(self.CASE) == Action("nothing")

    def test_a_dearer_test_is_not_made(self):
        dear = case(GLOVES, fee=euros(44))
        assert action_of(dear) == Action("nothing")
        assert best_test(dear).net < 0

    def test_what_the_test_must_show(self):
        """A test of 4 s weighs 4 times as much as what is known to 8 s: mean 7.5 s at 7.875 s."""
        shown = best_test(self.CASE).buy_from_s
        assert (4 * shown + 1 * 6.0) / 5 == pytest.approx(150 / 20)

    def test_worth_by_integral(self):
        """Independent calculation: buy where the mean after the test is worth its price."""
        spread = 20 * 64 / 80**0.5
        found, _ = quad(lambda b: b * norm.pdf(b, -30, spread), 0, -30 + 12 * spread)
        assert best_test(self.CASE).gain.worth == pytest.approx(found, rel=1e-6)


class TestNumberOfPairs:
    """Gain 0.8 +- 1.5 at 40 each for 50; one difference is off by 2.0 (independent calculation)."""

    ITEM = prospect("item", 0.8, 1.5, 50.0, 2.0)

    def asked(self, most: int = 12, **fees: Money) -> Case:
        return case(self.ITEM, per_second=40.0, whole_test=False, most_pairs=most, **fees)

    @pytest.mark.parametrize(
        ("pairs", "worth", "net"),
        [(1, 7.120676, 5.62), (2, 9.876161, 6.88), (4, 12.197124, 6.20), (8, 13.831443, 1.83)],
    )
    def test_each(self, pairs: int, worth: float, net: float):
        found = proposal(self.asked(pair_fee=euros("1.5")), (0,), pairs)
        assert found.gain.worth == pytest.approx(worth, abs=1e-6)
        assert found.net == pytest.approx(net, abs=0.005)
        assert found.runs == 2 * pairs

    def test_two_pairs_are_best_of_one_two_four_and_eight(self):
        case = self.asked(pair_fee=euros("1.5"))
        nets = {pairs: proposal(case, (0,), pairs).net for pairs in (1, 2, 4, 8)}
        assert max(nets, key=nets.get) == 2

    def test_the_best_of_all_numbers_tried(self):
        found = best_test(self.asked(pair_fee=euros("1.5")))
        nets = {n: proposal(self.asked(pair_fee=euros("1.5")), (0,), n).net for n in range(1, 13)}
        assert found.pairs == max(nets, key=nets.get) == 2

    def test_free_runs_are_all_ridden(self):
        assert best_test(self.asked(most=7, fee=euros(5))).pairs == 7
        assert self.asked(most=7).question.pairs == (1, 2, 3, 4, 6, 7)

    def test_perfect_knowledge(self):
        assert perfect_knowledge(self.asked()).worth == pytest.approx(16.005675, abs=1e-6)


class TestSeveralOptions:
    GOOD = prospect("good", 20.0, 6.0, 100.0)
    RIVAL = prospect("rival", 21.0, 8.0, 150.0)
    SURE = prospect("sure", 10.0, 0.0, 20.0)

    def test_the_session_is_paid_once_and_runs_by_item(self):
        asked = case(self.GOOD, self.RIVAL, whole_test=False, fee=euros(40), pair_fee=euros(2))
        assert proposal(asked, (0, 1), 3).cost == 40 + 2 * 3 * 2
        assert proposal(asked, (0,), 3).cost == 40 + 2 * 3

    def test_both_against_an_integral(self):
        """Independent calculation: mean of the best = rest + integral of 1 - chances below it."""
        asked = case(self.GOOD, self.RIVAL, self.SURE, draws=200_000)
        found = proposal(asked, (0, 1), 1)
        means = np.array([300.0, 270.0])
        spreads = np.array([20 * 36 / 52**0.5, 20 * 64 / 80**0.5])
        above, _ = quad(lambda t: 1 - np.prod(norm.cdf((t - means) / spreads)), 180, 2500)
        error = found.gain.monte_carlo_error
        assert found.gain.worth == pytest.approx(180 + above - 300, abs=4 * error)
        assert 0 < error < 0.005 * found.gain.worth

    def test_what_was_bought_untested_stays_the_measure(self):
        asked = case(self.GOOD, self.RIVAL, self.SURE)
        assert asked.best == 0
        found = proposal(asked, (1,), 1)
        alone = gain_for_two(-30.0, 20 * preposterior_sd(8.0, 4.0))
        assert found.gain == replace(alone, per_second=20.0)

    def test_what_is_certain_is_not_tested(self):
        asked = case(self.SURE)
        assert best_test(asked) is None
        assert perfect_knowledge(asked).worth == 0.0
        assert action_of(asked) == Action("buy", ("sure",))

    def test_a_hopeless_item_is_not_tested_with_the_others(self):
        hopeless = prospect("hopeless", -40.0, 3.0, 500.0)
        found = best_test(case(self.GOOD, hopeless, self.RIVAL))
        assert set(found.names) == {"good", "rival"}

    def test_an_item_that_nothing_can_measure_is_not_tested(self):
        assert best_test(case(self.GOOD, replace(self.RIVAL, error_s=None))).names == ("good",)

    @given(
        saved=st.lists(st.floats(-30, 30), min_size=2, max_size=4),
        doubt=st.lists(st.floats(0.1, 20), min_size=4, max_size=4),
        error=st.floats(0.1, 40),
    )
    @settings(max_examples=30)
    def test_no_test_is_worth_more_than_perfect_knowledge(self, saved, doubt, error):
        items = [prospect(str(n), one, doubt[n], 100.0 * n, error) for n, one in enumerate(saved)]
        asked = case(*items, draws=2000)
        found = best_test(asked)
        sds = 20 * np.array(doubt[: len(items)])
        # Independent calculation: mean of the best = integral of 1 - the chance that all lie below.
        grid = np.linspace(0.0, max(0.0, *asked.worths) + 9 * sds.max(), 40_001)
        below = np.prod(norm.cdf((grid[:, None] - asked.worths) / sds), axis=1)
        perfect = trapezoid(1 - below, grid) - max(0.0, *asked.worths)
        slack = 4 * found.gain.monte_carlo_error + 1e-3
        assert 0.0 <= found.gain.worth <= perfect + slack


@pytest.mark.parametrize("fee", [None, euros(25)])
def test_a_test_that_cannot_change_the_choice_is_not_made(fee: Money | None):
    """Even a free one: what it is worth would be shown as nothing."""
    for sure in (prospect("fast", 60.0, 5.0, 100.0), prospect("slow", -60.0, 5.0, 100.0)):
        asked = case(sure, fee=fee)
        test = best_test(asked)
        assert test.gain.worth == pytest.approx(0.0, abs=1e-6)
        assert not pays(asked, test)
        assert action_of(asked).kind != "test"


def test_an_owned_option_is_used_not_bought():
    assert untested(case(prospect("own", 5.0, 2.0, 0.0))) == Action("use", ("own",))


# --- from a race and its options ---------------------------------------------------------------


@pytest.fixture(scope="module")
def base() -> Ridden:
    return ride(steady_start(race()))


def option(name: str, saves: str | None, doubt: str | None = None, **fields: object) -> Option:
    return Option(
        name,
        saves=None if saves is None else read_saving(saves),
        doubt=None if doubt is None else read_saving(doubt),
        **{"price": euros(150), **fields},
    )


def question(scatter: str = "0.003 m^2", **fields: object) -> PricedQuestion:
    scatters = (Scatter(read_saving(scatter), 0.0, scatter),) if scatter else ()
    return PricedQuestion(**{"per_second": euros(20), "scatters": scatters, **fields})


CUFFS = option("cuffs", "0.002 m^2", "0.004 m^2", price=euros(45))


def test_the_worked_example_on_a_course(base: Ridden):
    """Cuffs that save 6 s +- 8 s on this course: the whole way from area to advice."""
    area = -multiple_needed(base, Change(cda=1.0), base.time - 6.0)
    saves = Saving("area", area, 0.0, "some area")
    cuffs = Option("cuffs", price=euros(150), saves=saves, doubt=saves)
    worth = worth_of(base, cuffs)
    each = amount_in_seconds(worth.changed, cuffs, Saving("area", 1.0, 0.0, "1 m^2"))
    cuffs = replace(cuffs, doubt=Saving("area", 8.0 / each, 0.0, "more area"))
    asked = question(
        "",
        fee=euros(25),
        scatters=(Scatter(None, 4.0, "4 s"),),
        whole_test=True,
    )
    found = decide(base, [cuffs], asked)
    (slot,) = found.slots
    assert 20 * slot.prospects[0].saved_s - 150 == pytest.approx(-30.0, abs=0.01)
    assert slot.perfect.worth == pytest.approx(50.0, abs=0.5)
    assert found.next_test.gain.worth == pytest.approx(43.0, abs=1.0)
    assert found.next_test.net == pytest.approx(18.0, abs=1.0)
    assert slot.action.words == "test cuffs first"
    assert slot.untested.worth == slot.untested.saved_s == 0.0
    # Buying is worth less than nothing by 30 / 160 of its doubt: wrong with 1 - Phi(0.1875).
    assert slot.untested.chance_wrong == pytest.approx(norm.sf(0.1875), abs=1e-3)


class TestEdges:
    def edges(self, base: Ridden, per_second: float):
        asked = replace(question(), per_second=euros(per_second), fee=euros(15))
        return decide(base, [CUFFS], asked).slots[0]

    @pytest.mark.parametrize(
        ("per_second", "side", "beyond"), [(20.0, "below", 0.99), (5.0, "above", 1.01)]
    )
    def test_the_advice_does_change_there(
        self, base: Ridden, per_second: float, side: str, beyond: float
    ):
        slot = self.edges(base, per_second)
        edge = getattr(slot.edges, side)
        past = self.edges(base, round(edge.per_second * beyond, 4))
        before = self.edges(base, round(edge.per_second / beyond, 4))
        assert past.action == edge.becomes != slot.action
        assert before.action == slot.action
        assert {slot.action.kind, past.action.kind} == {"test", "nothing"}

    def test_closed_form_without_a_doubt(self, base: Ridden):
        """A certain saving is bought from price over seconds on."""
        certain = option("light", None, mass=-0.5)
        saved = worth_of(base, certain).saved_s
        rate = 150 / saved
        asked = replace(question(), per_second=euros(round(2 * rate, 2)))
        slot = decide(base, [certain], asked).slots[0]
        assert slot.edges.below.per_second == pytest.approx(rate, rel=1e-3)
        assert slot.edges.below.becomes == Action("nothing")
        assert slot.edges.above is None
        assert (slot.edges.shifts, slot.edges.near) == ((), False)
        near = replace(question(), per_second=euros(round(1.3 * rate, 2)))
        assert decide(base, [certain], near).slots[0].edges.near

    def test_a_small_change_of_what_is_known(self, base: Ridden):
        slot = decide(base, [CUFFS], replace(question(), fee=euros(1000))).slots[0]
        known = slot.prospects[0]
        (shift,) = slot.edges.shifts
        assert slot.action == Action("nothing")
        assert shift.saved_s == pytest.approx(known.saved_s + 0.5 * known.doubt_s)
        assert shift.becomes == Action("buy", ("cuffs",))
        assert 20 * known.saved_s < 45 < 20 * shift.saved_s
        assert slot.edges.near


def test_scatter_of_a_run_in_any_form(base: Ridden):
    """A difference of two runs is off by the root of two more than one; 0.5 x 1.2 x 12.5^3."""
    watts = 0.003 * 0.6 * 12.5**3
    by_area, by_watts = (
        decide(base, [CUFFS], question(words)).slots[0].prospects[0]
        for words in ("0.003 m^2", f"{watts:.9f} W at 45 km/h")
    )
    cuffs = worth_of(base, CUFFS)
    seconds = amount_in_seconds(cuffs.changed, CUFFS, read_saving("0.003 m^2"))
    assert by_area.error_s == pytest.approx(2**0.5 * seconds, rel=1e-12)
    assert by_watts.error_s == pytest.approx(by_area.error_s, rel=1e-8)
    # A day of 4 pairs, s sqrt(0.8^2 + 2 / 4); s counts 10 degrees of freedom, the change 4.
    share = 0.64 / 1.14
    quantile = t.ppf(0.975, 1 / (1 / 10 + share**2 / 4))
    day = seconds * np.sqrt(1.14) * quantile / norm.ppf(0.975)
    assert by_area.error_of(4) == pytest.approx(day, rel=1e-9)


def test_the_first_scatter_that_fits_counts(base: Ridden):
    tyres = option("tyres", "0.0004 of Crr", "0.0002 of Crr", acts_on="tyres")
    chain = option("chain", "3 W at 250 W", "1 W at 250 W", acts_on="drivetrain")
    words = ("0.003 m^2", "0.0002 of Crr", "0.0009 of Crr")
    asked = replace(
        question(), scatters=tuple(Scatter(read_saving(one), 0.0, one) for one in words)
    )
    answer = decide(base, [CUFFS, tyres, chain], asked)
    assert any("a further --repeatability" in note for note in answer.notes)
    assert not any("a further" in note for note in decide(base, [CUFFS], asked).notes)
    found = {one.slot: one for one in answer.slots}
    assert found["tyres"].prospects[0].scatter == "0.0002 of Crr"
    assert found["cuffs"].prospects[0].scatter == "0.003 m^2"
    assert found["chain"].prospects[0].error_s is None
    assert found["chain"].test is None


def test_what_cannot_be_judged_is_named_and_never_given_a_doubt(base: Ridden):
    found = decide(
        base,
        [
            CUFFS,
            option("promise", "0.004 m^2"),
            option("priceless", "0.004 m^2", "0.001 m^2", price=None),
            option(
                "banned", "0.004 m^2", "0.001 m^2", restrictions=Restrictions(rules="forbidden")
            ),
            option("set", "0.004 m^2", "0.001 m^2", set_of=("cuffs", "promise")),
            option("mine", "0.004 m^2", "0.001 m^2", price=None, ownership=Ownership(owned=True)),
        ],
        question(),
    )
    assert {one.name: one.reason for one in found.not_judged} == {
        "promise": "it states no doubt",
        "priceless": "it states no price",
        "banned": "the rules forbid it",
        "set": "a test of a whole set: its parts are judged one by one",
    }
    mine = next(one for one in found.slots if one.slot == "mine")
    assert mine.untested.action == Action("use", ("mine",))
    assert mine.untested.worth == pytest.approx(20 * mine.untested.saved_s)


def test_one_option_of_a_slot_at_a_time(base: Ridden):
    first = option("first", "0.004 m^2", "0.002 m^2", slot="suit", price=euros(20))
    second = option("second", "0.0041 m^2", "0.002 m^2", slot="suit", price=euros(20))
    found = decide(base, [first, CUFFS, second], question(fee=euros(500)))
    suit = next(one for one in found.slots if one.slot == "suit")
    assert suit.untested.action == Action("buy", ("second",))
    # Nearly alike: the other one is better nearly every second time.
    assert 0.4 < suit.untested.chance_wrong < 0.5
    assert [one.slot for one in found.slots if len(one.prospects) == 1] == ["cuffs"]


class TestOneSession:
    OTHER = replace(CUFFS, name="other cuffs")

    def test_its_fee_is_paid_once(self, base: Ridden):
        asked = question(fee=euros(10), pair_fee=euros("0.5"))
        found = decide(base, [CUFFS, self.OTHER], asked)
        each = found.slots[0].test
        assert found.session.worth == pytest.approx(2 * each.gain.worth)
        assert found.session.cost == pytest.approx(2 * each.cost - 10)
        assert found.session.net > found.next_test.net
        assert found.session.runs == 2 * each.runs

    def test_two_slots_may_pay_what_one_does_not(self, base: Ridden):
        worth = decide(base, [CUFFS], question()).slots[0].test.gain.worth
        asked = question(fee=euros(round(1.5 * worth)))
        found = decide(base, [CUFFS, self.OTHER], asked)
        assert found.next_test is None
        assert found.session.net == pytest.approx(2 * worth - round(1.5 * worth))

    def test_none_for_one_slot(self, base: Ridden):
        assert decide(base, [CUFFS], question()).session is None


class TestErrors:
    def test_nothing_tells_the_scatter(self, base: Ridden):
        with pytest.raises(InputError, match=r"the scatter of runs is not stated.*0\.003 m\^2"):
            decide(base, [CUFFS], question(""))

    def test_no_scatter_fits(self, base: Ridden):
        with pytest.raises(InputError, match=r'"0\.0003 of Crr" fits no option'):
            decide(base, [CUFFS], question("0.0003 of Crr"))

    def test_no_scatter_is_needed_where_nothing_is_in_doubt(self, base: Ridden):
        light = option("light", None, mass=-0.5, price=euros(1))
        assert decide(base, [light], question("")).slots[0].action == Action("buy", ("light",))

    def test_nothing_can_be_judged(self, base: Ridden):
        with pytest.raises(InputError, match="promise: it states no doubt"):
            decide(base, [option("promise", "0.004 m^2")], question())
        with pytest.raises(InputError, match="it has none at all"):
            decide(base, [], question())

    @pytest.mark.parametrize("fee", ["fee", "pair_fee"])
    def test_currencies_are_not_mixed(self, base: Ridden, fee: str):
        francs = Money(Decimal(25), "CHF")
        with pytest.raises(InputError, match="one is in EUR, the other in CHF"):
            decide(base, [CUFFS], question(**{fee: francs}))
        with pytest.raises(InputError, match="option dear: one is in EUR, the other in CHF"):
            decide(base, [CUFFS, option("dear", "0.004 m^2", price=francs)], question())


class TestAdvisedTogether:
    """Advice slot by slot is looked at as one: tests of sets, and what cannot go together."""

    SUIT = option("suit", "0.006 m^2", "0.0005 m^2", slot="suit", price=euros(20))
    COVERS = option("covers", "0.004 m^2", "0.0005 m^2", slot="shoes", price=euros(10))

    def both(self, saves: str) -> Option:
        return Option(
            "both",
            saves=read_saving(saves),
            doubt=read_saving("0.0005 m^2"),
            set_of=("suit", "covers"),
        )

    def test_a_tested_set_within_it_is_named_with_what_it_is_worth(self, base: Ridden):
        options = (self.SUIT, self.COVERS, self.both("0.0045 m^2"))
        found = decide(base, options, question(fee=euros(500)))
        assert [one.action.words for one in found.slots] == ["buy suit now", "buy covers now"]
        (one,) = found.together.sets
        suit, covers, both = (worth_of(base, option).saved_s for option in options)
        assert (one.name, one.names) == ("both", ("suit", "covers"))
        assert one.saved_s == pytest.approx(both)
        assert one.singles_s == pytest.approx(suit + covers)
        assert one.gap_worth == pytest.approx(20 * (both - suit - covers))
        assert one.worth == pytest.approx(20 * both - 30)
        # Less than the suit alone saves: the covers are left at home.
        assert (one.leave, one.worth_without) == ("covers", pytest.approx(20 * suit - 20))

    def test_a_set_that_gains_is_kept(self, base: Ridden):
        options = (self.SUIT, self.COVERS, self.both("0.012 m^2"))
        (one,) = decide(base, options, question(fee=euros(500))).together.sets
        assert (one.leave, one.worth_without) == ("", one.worth)
        assert one.gap_worth > 0

    def test_a_set_of_which_one_is_not_bought_says_nothing(self, base: Ridden):
        dear = replace(self.COVERS, price=euros(900))
        options = (self.SUIT, dear, self.both("0.0045 m^2"))
        found = decide(base, options, question(fee=euros(500)))
        assert found.together.sets == ()
        assert found.together.conflicts == ()

    def test_what_excludes_or_needs_another_is_said(self, base: Ridden):
        suit = replace(self.SUIT, restrictions=Restrictions(excludes=("covers",), needs=("zip",)))
        zipper = option("zip", None, mass=0.3, price=euros(30))
        found = decide(base, [suit, self.COVERS, zipper], question(fee=euros(500)))
        # The zip costs time and money, and the suit is worth both: it is bought with it.
        assert found.together.conflicts == ("covers and suit exclude each other: use one of them.",)
        actions = {slot.slot: slot.action for slot in found.slots}
        assert actions["zip"] == Action("buy", ("zip",))
        assert [one.set_aside for one in found.slots if one.set_aside] == [("covers",)]
        dear = replace(zipper, price=euros(3000))
        found = decide(base, [suit, self.COVERS, dear], question(fee=euros(500)))
        assert found.together.conflicts == (
            "covers and suit exclude each other: use one of them.",
            "suit needs zip, which is not bought or used now.",
        )

    def test_two_positions_held_in_part(self, base: Ridden):
        held = Holding(shares=(0.8,))
        options = [replace(one, holding=held) for one in (self.SUIT, self.COVERS)]
        found = decide(base, options, question(fee=euros(500)))
        (said,) = found.together.conflicts
        assert said == "suit and covers are held in part, and one position can be held at a time."

    def test_what_is_worth_less_than_its_owner_wants_is_left_out(self, base: Ridden):
        disliked = replace(self.SUIT, restrictions=Restrictions(least_gain=30.0))
        found = decide(base, [disliked, self.COVERS], question())
        assert [(one.name, one.reason) for one in found.not_judged] == [
            ("suit", "it is worth less than the 30 W you want of it")
        ]

    def test_what_can_only_be_hired_is_weighed_by_its_hire(self, base: Ridden):
        hired = replace(self.SUIT, price=None, ownership=Ownership(hire=euros(5)))
        found = decide(base, [hired, self.COVERS], question())
        (suit,) = (one for slot in found.slots for one in slot.prospects if one.name == hired.name)
        assert (suit.cost, suit.price, suit.by) == (5.0, 5.0, "hired")
        assert not found.not_judged
