"""The outputs of a pacing card say what the card says, to everyone and whatever it is called."""

import re
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser

import gpxpy
import numpy as np
import pytest

from racecalc import __version__
from racecalc.answers.pace import ADVICE, card_steps, card_tables
from racecalc.answers.sheet import Depth, Sheet
from racecalc.decisions.pacing.card import Card, Passage, Target
from racecalc.domain.course import Positions
from racecalc.errors import InputError
from racecalc.files.tables import read_table
from racecalc.quantities.clock import read_duration, show_duration
from racecalc.quantities.kinds import GRADE, LENGTH, POWER, SPEED, TIME
from racecalc.views.cards import LONGEST_TITLE, SIZES, Print, card_csv, card_gpx, card_html, faces
from racecalc.views.writers.terminal import sheet_text
from tests.builders import profile_course
from tests.files.test_route import check_schema

DAY = date(2026, 5, 17)
HOSTILE = {
    "markup": "<script>alert('x')</script>&amp;</td></table>",
    "direction": "\u202eecar \u2066hidden\u2069\u200f",
    "long": "Wide Moor " * 500,
    "emoji": "🚴‍♀️🏁 round two",
    "breaks": "one\ntwo\r\nthree\x00\x1b[31m\u2028four",
    "formula": '=1+1,"=2+2";@3',
    "right to left": "שלום",
    "nothing": "",
}
VOID = {"meta", "hr"}


def test_what_is_pushed_goes_by_the_critical_power_of_the_card():
    """240, 245 and 250 W: above 247 W of critical power, or 1.05 times 262 W without one."""
    efforts = {
        critical: [one.effort for one in card_steps(card(critical_power_w=critical), "metric")]
        for critical in (247.0, None)
    }
    assert efforts == {
        247.0: ["hold", "hold", "push", None],
        None: ["hold", "hold", "hold", None],
    }


def card(sections=3, length=40_000.0, passages=(), **changes):
    step = length / sections
    speeds = [11.0 + 0.5 * (number % 4) for number in range(sections)]
    elapsed = np.cumsum([step / speed for speed in speeds])
    targets = tuple(
        Target(
            from_m=number * step,
            to_m=(number + 1) * step,
            power_w=240.0 + 5.0 * (number % 7),
            speed_m_s=speed,
            time_s=step / speed,
            elapsed_s=float(elapsed[number]),
            grade=0.0123 * (-1) ** number,
            head_wind_m_s=2.31 * (-1) ** number,
            entered_head_wind_m_s=2.31 * (-1) ** number,
            seconds_per_watt=0.00012 * step,
            ideal_w=241.7,
            coasting_s=3.0,
        )
        for number, speed in enumerate(speeds)
    )
    time = float(elapsed[-1])
    whole = Card(
        race="Two Mills time trial",
        targets=targets,
        passages=tuple(passages),
        time_s=time,
        constant_power_w=262.0,
        constant_power_mean_w=262.0,
        constant_power_time_s=time + 5.3,
        ideal_time_s=time - 1.25,
        ideal_sections=None,
        mean_power_w=262.0,
        power_mean_w=263.8,
        power_mean_order=4.0,
        distance_mean_w=259.6,
        limit="4th-power mean over time at most 264 W",
        within_limits=True,
        critical_power_w=None,
        work_above_critical_j=None,
        least_reserve_j=None,
        least_reserve_unrefilled_j=None,
        least_reserve_at_m=None,
        easing_s=None,
        warnings=(),
        cautions=("Wet road lengthens braking.", "Stop for chest pain."),
    )
    return replace(whole, **changes)


CHURCH = Passage(12_340.0, "Church at the crossroads", 1110.0, "drink")
TURN = Passage(20_000.0, "Turn at the cone", 1790.0, "")
CARDS = {
    "three sections": card(passages=(CHURCH, TURN)),
    "one section": card(1),
    "forty sections": card(40, 200_000.0, passages=(CHURCH,)),
}


class Page(HTMLParser):
    """Elements of a page: rows of its tables, its words, and whether all tags match."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.open, self.words, self.tables, self.classes = [], [], [], [], []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.classes.append(dict(attrs).get("class"))
        if tag not in VOID:
            self.open.append(tag)
        if tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag in {"td", "th"}:
            self.tables[-1][-1].append("")

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" in self.open:
            return
        self.words.append(data)
        if {"td", "th"} & set(self.open):
            self.tables[-1][-1][-1] += data

    @property
    def text(self):
        return squeezed(" ".join(self.words))

    def count(self, tag):
        return sum(found == tag for found, _ in self.tags)


def squeezed(text):
    return " ".join(text.split())


def test_a_card_beyond_its_limits_says_so_on_its_face():
    assert "Beyond your limits." in html(card(within_limits=False))
    assert "Beyond your limits." not in html()


def card_table(of, units):
    """The tables of a card on the terminal."""
    return sheet_text(Sheet("the card", card_tables(of), units), Depth.DETAILS)


def targets_in(shown):
    """The lines of the targets, as they are shown."""
    lines = shown.splitlines()
    return lines[4 : next(at for at, line in enumerate(lines) if line.startswith("Watts"))]


def html(of=CARDS["three sections"], units="metric", sizes=SIZES, race=None):
    return card_html(of, Print(units, sizes, race, DAY))


def page(*of, **asked):
    return Page(html(*of, **asked))


class TestText:
    @pytest.mark.parametrize("units", ["metric", "imperial"])
    @pytest.mark.parametrize("name", CARDS)
    def test_fits_80_columns(self, name, units, monkeypatch):
        monkeypatch.setenv("COLUMNS", "80")
        shown = card_table(CARDS[name], units).splitlines()
        assert max(map(len, shown)) <= 80

    def test_numbers(self):
        shown = card_table(CARDS["three sections"], "metric")
        lines = shown.splitlines()
        assert squeezed(lines[2]) == "from km to km watts km/h time elapsed grade % wind m/s s/W"
        assert [squeezed(line) for line in targets_in(shown)][1] == (
            "13.33 26.67 245 41.4 19:20 39:32 -1.2 -2.3 1.60"
        )
        assert [squeezed(line) for line in lines[-2:]] == [
            "12.34 18:30 Church at the crossroads drink",
            "20.00 29:50 Turn at the cone",
        ]

    def test_imperial(self):
        (_, second, _) = targets_in(card_table(CARDS["three sections"], "imperial"))
        assert squeezed(second) == "8.28 16.57 245 25.7 19:20 39:32 -1.2 -5.2 1.60"

    def test_no_landmarks(self):
        assert "Landmarks" not in card_table(CARDS["one section"], "metric")

    @pytest.mark.parametrize("name", HOSTILE.values(), ids=HOSTILE)
    def test_names_do_not_steer_the_terminal(self, name, monkeypatch):
        monkeypatch.setenv("COLUMNS", "80")
        shown = card_table(card(passages=[Passage(5.0, name, 1.0, name)]), "metric")
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f\u2028\u202a-\u202e\u2066-\u2069]", shown)
        assert max(map(len, shown.splitlines())) <= 80


class TestCsv:
    @pytest.mark.parametrize("name", CARDS)
    def test_reads_back(self, name, tmp_path):
        path = tmp_path / "card.csv"
        path.write_text(card_csv(CARDS[name]), encoding="utf-8")
        read, targets = read_table(path), CARDS[name].targets

        def agree(column, kind, field, within):
            np.testing.assert_allclose(
                read.numbers(column, kind), [getattr(one, field) for one in targets], atol=within
            )

        assert read.columns[0].heading == "from [km]"
        agree("from", LENGTH, "from_m", 0.51)
        agree("to", LENGTH, "to_m", 0.51)
        agree("power", POWER, "power_w", 0.051)
        agree("speed", SPEED, "speed_m_s", 0.002)
        agree("time", TIME, "time_s", 0.0051)
        agree("grade", GRADE, "grade", 5.1e-5)
        agree("head wind", SPEED, "head_wind_m_s", 0.0051)
        elapsed = [read_duration(f"{cell} h:m:s") for cell in read.texts("elapsed")]
        np.testing.assert_allclose(elapsed, [one.elapsed_s for one in targets], atol=0.051)
        marks = read.texts("landmarks")
        within = "12.34 Church at the crossroads (drink)"
        assert [one for one in marks if "Church" in one] == [within] * ("one" not in name)
        per_watt = [float(cell) for cell in read.texts("seconds per watt")]
        np.testing.assert_allclose(per_watt, [one.seconds_per_watt for one in targets], atol=6e-5)

    @pytest.mark.parametrize("name", HOSTILE.values(), ids=HOSTILE)
    def test_names_stay_in_one_cell_of_one_comment(self, name, tmp_path):
        written = card_csv(card(race=name, passages=[Passage(5.0, name, 1.0, name)]))
        comment, heading, *rows = written.split("\n")
        assert comment.startswith("# ")
        assert ADVICE in comment
        assert not re.search(r'[,;"\t]', comment.partition(ADVICE)[0])
        assert heading.startswith("from [km],to [km],power [W]")
        assert len(rows) == 4
        assert rows[0].rpartition(",")[2].startswith("0.0") or not name
        assert len(written.splitlines()) == 5
        written.encode("utf-8")


STEM, TOP_TUBE, POCKET = SIZES


class TestPage:
    @pytest.mark.parametrize("units", ["metric", "imperial"])
    @pytest.mark.parametrize("name", CARDS)
    def test_is_a_whole_page_that_fetches_and_runs_nothing(self, name, units):
        text = html(CARDS[name], units)
        found = Page(text)
        assert text.startswith("<!DOCTYPE html>\n<html lang=")
        assert found.count("title") == found.count("h1") == found.count("main") == 1
        assert not {tag for tag, _ in found.tags} & {"script", "link", "img", "iframe", "object"}
        names = {name for _, attributes in found.tags for name in attributes}
        assert not {"src", "href", "onclick"} & names
        assert not re.search(r"url\((?!#)|@import|https?:|\$", text)

    def test_headings_have_a_scope(self):
        scopes = [attributes.get("scope") for tag, attributes in page().tags if tag == "th"]
        assert set(scopes) == {"col", "row"}

    def test_a_row_says_from_where_which_power_holds(self):
        (heading, *lines), *_ = page(sizes=(TOP_TUBE,)).tables
        assert heading == ["from km", "W", "clock"]
        assert lines == [
            ["0.0", "240", "0:00"],
            ["12.3", "Church at the crossroads drink", "18:30"],
            ["13.3", "245", "20:12"],
            ["20.0", "Turn at the cone", "29:50"],
            ["26.7", "250", "39:32"],
            ["40.0", "Finish", "58:03"],
        ]

    def test_figures_are_large_enough_to_be_read_on_the_move(self):
        """Digits of the usual fonts are 0.716 of their size (Arial, font file), 1 pt is 25.4/72 mm.

        At 60 cm 20 minutes of arc are preferred (ISO 9241-303, from memory).
        """
        style = html()
        sizes = re.findall(r"\.watts \{[^}]*font-size: ([\d.]+)pt", style)
        heights = [0.716 * float(one) * 25.4 / 72.0 for one in sizes]
        assert len(heights) == 3
        assert min(heights) >= 4.0
        assert np.degrees(min(heights) / 600.0) * 60.0 >= 20.0

    @pytest.mark.parametrize("size", SIZES, ids=lambda one: one.name)
    @pytest.mark.parametrize("marks", [0, 2, 15])
    def test_as_many_sections_as_are_said_to_fit_make_one_card(self, size, marks):
        landmarks = [replace(CHURCH, at_m=1000.0 * at + 500.0) for at in range(marks)]
        most = size.fits(marks)
        assert most >= 8

        def fronts(sections):
            steps = card_steps(card(sections, 40_000.0, landmarks), "metric")
            return [one for one in faces(size, steps) if not one.back]

        (front,) = fronts(most)
        assert sum(height for _, height in front.rows) <= size.room + 0.1
        assert all(height >= 6.4 for step, height in front.rows[:-1])
        assert len(fronts(2 * most + 2)) > 1

    def test_what_the_front_leaves_out_is_on_the_back(self):
        words = "Turn left at the third lamp after the school"
        mark = Passage(9_000.0, words, 800.0, "Sit up, look over the shoulder, then go.")
        for size in SIZES:
            steps = card_steps(card(passages=[mark, TURN]), "metric")
            front, back = faces(size, steps)[0], faces(size, steps)[-1]
            assert back.back == (size is not POCKET)
            text = html(card(passages=[mark, TURN]), sizes=(size,))
            assert words in text.partition("Targets")[0]
            assert len(front.rows) == 6
        stem = Page(html(card(passages=[mark]), sizes=(STEM,))).tables[0]
        assert stem[2][1] == "Turn left at the…"

    def test_many_sections_make_several_cards(self):
        of = CARDS["forty sections"]
        found = page(of, sizes=(STEM,))
        cards = [rows for rows in found.tables if rows[0] == ["from km", "W", "clock"]]
        assert len(cards) == 4
        powers = [row[1] for rows in cards for row in rows[1:] if row[1].isdigit()]
        assert powers == [f"{target.power_w:.0f}" for target in of.targets]
        assert "4 of 4:" in found.text
        assert "of 1:" not in page(CARDS["one section"]).text

    def test_short_sections_show_another_decimal(self):
        (_, *lines), *_ = page(card(4, 200.0)).tables
        assert [line[0] for line in lines] == ["0.00", "0.05", "0.10", "0.15", "0.20"]

    def test_the_table_below_is_that_of_the_terminal(self):
        of = CARDS["three sections"]
        for units in ("metric", "imperial"):
            rows = page(of, units).tables[-2]
            lines = targets_in(card_table(of, units))
            assert [" ".join(row) for row in rows[1:]] == [squeezed(line) for line in lines]
        assert page(of).tables[-1][1] == ["12.34", "18:30", "Church at the crossroads", "drink"]

    def test_cautions_limit_day_and_version(self):
        of = CARDS["three sections"]
        found = page(of)
        for caution in (*of.cautions, ADVICE, "not targets, least of all in bends"):
            assert caution in found.text
        assert of.limit in found.text
        for time in (of.time_s, of.constant_power_time_s, of.ideal_time_s):
            assert show_duration(time) in found.text
        for watts in ("262 W", "264 W", "260 W"):
            assert watts in found.text
        assert f"racecalc {__version__} on 2026-05-17" in found.text
        assert found.text.count("Advice, not orders") == len(SIZES) + 1

    @pytest.mark.parametrize("name", HOSTILE.values(), ids=HOSTILE)
    def test_words_stay_words(self, name):
        landmark = Passage(5.0, name, 1.0, name)
        of = card(race=name, limit=name, cautions=(name,), passages=[landmark])
        text = html(of)
        assert not {tag for tag, _ in Page(text).tags} & {"script", "b2"}
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f\u2028\u202a-\u202e\u2066-\u2069]", text)
        text.encode("utf-8")

    def test_long_titles_end_with_an_ellipsis(self):
        found = page(card(race=HOSTILE["long"]))
        at = [number for number, (tag, _) in enumerate(found.tags) if tag == "title"]
        assert len(at) == 1
        title = next(word for word in found.words if word.startswith("Wide Moor"))
        assert len(title) <= LONGEST_TITLE
        assert title.endswith("Moor…")

    def test_emoji_and_other_scripts_are_shown(self):
        assert "🚴‍♀️🏁 round two" in page(card(race=HOSTILE["emoji"])).text
        assert "שלום" in page(card(race=HOSTILE["right to left"])).text


class TestRoute:
    @staticmethod
    def course(of):
        ends = [0.0, of.targets[-1].to_m]
        where = Positions(np.array([52.0, 52.3]), np.array([5.0, 5.6]))
        return replace(profile_course(ends, [10.0, 40.0]), positions=where)

    def test_one_a_section_a_landmark_and_the_finish_on_the_road(self):
        of = CARDS["three sections"]
        text = card_gpx(of, self.course(of), "metric")
        check_schema(text)
        read = gpxpy.parse(text)
        assert read.name == of.race
        assert read.description == f"{of.limit}. {ADVICE}"
        points = read.waypoints
        assert [point.name for point in points] == [
            *("240 W", "Church at the crossroads", "245 W", "Turn at the cone", "250 W", "Finish")
        ]
        shares = np.array([0.0, 12.34, 40 / 3, 20.0, 80 / 3, 40.0]) / 40.0
        np.testing.assert_allclose([one.latitude for one in points], 52 + 0.3 * shares, atol=1e-6)
        np.testing.assert_allclose([one.longitude for one in points], 5 + 0.6 * shares, atol=1e-6)
        heights = [one.elevation for one in points]
        np.testing.assert_allclose(heights, 10 + 30 * shares, atol=0.051)
        assert points[0].description == "to km 13.3, 20:12 elapsed"
        assert points[1].description == "18:30 elapsed, drink"
        assert points[-1].description == "58:03 elapsed"
        [[line]] = [one.segments for one in read.tracks]
        assert [one.elevation for one in line.points] == [10.0, 40.0]

    def test_imperial(self):
        of = CARDS["one section"]
        (start, _) = gpxpy.parse(card_gpx(of, self.course(of), "imperial")).waypoints
        assert start.description == "to mi 24.9, 1:00:36 elapsed"

    def test_hostile_name(self):
        for name in HOSTILE.values():
            of = card(race=name, passages=[Passage(5.0, name, 1.0, name)])
            check_schema(card_gpx(of, self.course(of), "metric"))

    def test_no_positions(self):
        course = replace(self.course(card()), positions=None)
        with pytest.raises(InputError, match="no positions, so there is no route"):
            card_gpx(card(), course, "metric")
