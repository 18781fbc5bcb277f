from __future__ import annotations

import re
from datetime import datetime

import pandas as pd
import pytest

from dashboard.core import numbers
from dashboard.core.numbers import Row
from dashboard.core.palette import CALLS
from dashboard.curve import words as curve_words
from dashboard.fits import fit_news
from dashboard.screen import fit_line, notices
from dashboard.squad import words as squad_words
from dashboard.squad.changed import ChangedCalls
from dashboard.tests import typed_words
from dashboard.today import row_words
from dashboard.trust import data_wanted
from dashboard.week.fit_moments import FitMoment
from db.efforts.new_rounds import StopRule
from db.fits.results import KeptFit
from db.roster.measures import Measure
from tests.dashboard import artificial

ROWS = artificial.responses()
FIT = KeptFit(
    **artificial.fit_facts(7).__dict__,
    fit_id=1,
    measure="jump_height",
    fitted_at=datetime(2026, 3, 15, 9),
)
JUMP = Measure("jump_height", "Jump height", "cm", "higher")


def row(code: str) -> Row:
    return ROWS[ROWS["athlete"] == code].to_dict("records")[0]


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("value", "shown"), [(15.0, "15"), (7.5, "7.5"), (0.0, "0"), (100.0, "100"), (14.96, "15")]
)
def test_set_volumes_are_written_as_people_write_them(value: float, shown: str) -> None:
    assert numbers.number(value) == shown


@pytest.mark.parametrize(
    ("value", "shown"),
    [(2.7, "2.7\u00a0%"), (-2.7, "\u22122.7\u00a0%"), (-0.04, "0.0\u00a0%"), (0.04, "0.0\u00a0%")],
)
def test_percentages_have_a_fixed_space_a_true_minus_and_no_minus_zero(
    value: float, shown: str
) -> None:
    assert numbers.percent(value) == shown


def test_counts_agree_with_their_nouns() -> None:
    assert numbers.counted(1, "sessions") == numbers.counted(1, "session") == "1 session"
    assert numbers.counted(1240, "effort") == "1,240 efforts"
    assert numbers.volume(1.0, "efforts") == "1 effort"
    assert numbers.volume(15.0, "throws") == "15 throws"


def test_estimates_never_stand_without_their_interval() -> None:
    assert numbers.estimated_volume(row("A1")) == "40 (28 to 56)"
    small = {"best_volume": 2.4, "best_volume_low": 1.1, "best_volume_high": 4.6}
    assert numbers.estimated_volume(small) == "2.4 (1.1 to 4.6)"
    assert plain(numbers.estimated_percent(row("A1"), "gain_pct")) == "6.0 % (4.1 to 8.2)"
    assert numbers.estimate_ends(row("A1")) == "28 and 56"


@pytest.mark.parametrize(
    ("share", "shown"),
    [(1.0, "over 99 %"), (0.97, "97 %"), (0.5, "50 %"), (0.004, "under 1 %"), (0.0, "under 1 %")],
)
def test_chances_are_never_certain(share: float, shown: str) -> None:
    assert plain(numbers.chance(share)) == shown


@pytest.mark.parametrize(
    ("names", "shown"), [([], ""), (["A1"], "A1"), (["A1", "A2", "A3"], "A1, A2 and A3")]
)
def test_names_are_listed_as_in_a_sentence(names: list[str], shown: str) -> None:
    assert numbers.listed(names) == shown


def test_the_first_known_volume_is_taken() -> None:
    assert numbers.first_known(float("nan"), 12.0, 15.0) == 12.0


@pytest.mark.parametrize(
    ("code", "to_coach", "to_athlete"),
    [
        (
            "A1",
            "Warm up longer: still getting better at 15",
            "Warm up longer: you are still getting better at 15",
        ),
        (
            "A2",
            "Stop sooner: past the best by 15",
            "Stop sooner: you are past your best by 15",
        ),
        ("A3", "Keep 15: no other length is clearly better", None),
        (
            "A4",
            "Not known yet: 2 sessions, 24 efforts are too few to call it shorter or longer",
            None,
        ),
        ("A5", "Not tested yet: this is what the squad as a whole suggests", None),
    ],
)
def test_the_headline_says_what_to_do(code: str, to_coach: str, to_athlete: str | None) -> None:
    assert curve_words.headline(row(code), 15) == to_coach
    assert curve_words.headline(row(code), 15, to_athlete=True) == (to_athlete or to_coach)


def test_one_athlete_in_words() -> None:
    told = plain(curve_words.curve_in_words(row("A1"), 15, "efforts"))
    assert "Best after 40 (28 to 56) efforts" in told
    assert "from 5 sessions, 60 efforts" in told
    assert re.search(r"At the standard 15, \d\.\d % \(\d\.\d to \d\.\d\) is lost", told)
    assert "From cold to peak: 6.0 % (4.1 to 8.2)." in told
    assert "down 10 % after another 100 (80 to 120) efforts" in told


LENGTHS = {
    "length": 25.0,
    "wanted_volume": 40.0,
    "limited_by": "club",
    "most_allowed": 25.0,
    "lost_pct": 6.0,
    "lost_pct_low": 4.0,
    "lost_pct_high": 7.5,
}


def test_a_length_comes_with_its_limit_and_what_is_lost() -> None:
    assert plain(curve_words.length_sentence(row("A1") | LENGTHS, 15, "efforts")) == (
        "Length: 25 efforts, not the standard 15. 40 would be better; capped at 25, the most"
        " allowed. Fill up with easy, submaximal efforts. 6.0 % (4.0 to 7.5) is lost."
    )
    step = LENGTHS | {"length": 18.0, "limited_by": "most done"}
    minor = row("A4") | LENGTHS | {"length": 9.0, "wanted_volume": 15.0, "most_allowed": 9.0}
    assert "The standard is 15; capped at 9, the" in curve_words.length_sentence(
        minor, 15, "efforts"
    )
    told = curve_words.length_sentence(row("A1") | step, 15, "efforts")
    assert "a quarter over the most done so far" in told
    assert curve_words.good_range_sentence(row("A1"), "efforts") == "Good range: 32 to 50 efforts."
    assert curve_words.good_range_sentence(row("A4"), "efforts") == ""


def test_the_chances_are_told_in_words() -> None:
    assert plain(curve_words.chances_sentence(row("A1"), 15)) == (
        "How sure: 97 % that longer than 15 is better, 1 % that shorter is better,"
        " 2 % that it makes no real difference."
    )


@pytest.mark.parametrize(
    ("reach", "told"), [("beyond", "a longer test"), ("below", "measure after fewer")]
)
def test_a_peak_outside_the_tried_volumes_is_pointed_out(reach: str, told: str) -> None:
    assert told in curve_words.reach_sentence({"reach": reach}, "efforts")
    assert curve_words.reach_sentence({"reach": "inside"}, "efforts") == ""


def test_an_athlete_without_data_is_told_about_the_squad_and_the_test_that_helps() -> None:
    told = plain(" ".join(curve_words.own_sentences(row("A5"), 15, "efforts")))
    assert "The squad as a whole is best after 10 (7 to 14) efforts" in told
    assert "ask your coach for a fade test" in told
    assert "you lose" not in told
    assert "points" not in curve_words.how_to_read_curve(row("A5"))


def test_an_athlete_with_data_is_told_what_is_lost_at_the_standard() -> None:
    told = plain(" ".join(curve_words.own_sentences(row("A1"), 15, "efforts")))
    assert "At the standard 15 you lose" in told
    assert "Warming up is worth 6.0 % (4.1 to 8.2) to you" in told
    assert plain(curve_words.own_length_sentence(row("A1"), "efforts")) == (
        "Your best lies somewhere between 28 and 56 efforts (90 % sure), from 5 sessions,"
        " 60 efforts."
    )


@pytest.mark.parametrize(
    ("calls", "told"),
    [
        (["long", "short", "either"], "2 of 3 need another length: 1 shorter, 1 longer"),
        (["short", "short", "either"], "2 of 3 need another length: 2 shorter"),
        (["long", "either"], "1 of 2 needs another length: 1 longer"),
        (["either", "either"], "15 suits everybody"),
        (["either", "either", "not known"], "15 suits all 2 of 3 we know of"),
        (["not known", "not known"], "Not known yet for any of 2 athletes"),
        (["not known"], "Not known yet for any of 1 athlete"),
    ],
)
def test_the_squad_s_headline_counts_the_firm_calls(calls: list[str], told: str) -> None:
    assert squad_words.squad_headline(pd.DataFrame({"call": calls}), 15.0) == told


@pytest.mark.parametrize(
    ("low", "high", "answer"),
    [
        (1.6, 3.0, "Yes: 2.0 % better"),
        (0.5, 3.0, "Not known yet: about 2.0 %"),
        (0.1, 1.5, "No: only 2.0 % better"),
    ],
)
def test_own_lengths_are_worth_it_only_if_the_whole_interval_is_worth_having(
    low: float, high: float, answer: str
) -> None:
    worth = pd.DataFrame({"against": ["best single", "standard"], "athletes": 5})
    worth = worth.assign(worth_pct=2.0, worth_pct_low=low, worth_pct_high=high)
    said, told = squad_words.worth_answer(worth, FIT)
    assert said.replace("\u00a0", " ") == answer
    assert f"90\u00a0% sure it is {low} to {high}" in told


def test_changed_calls_are_named_and_first_curves_are_called_first() -> None:
    first, last = (FitMoment(n, datetime(2026, 11, day)) for n, day in ((1, 20), (2, 28)))
    alone = ChangedCalls(last, None, last, pd.DataFrame())
    assert squad_words.changed_answer(alone) == (
        "No comparison yet",
        "The first curves are from 28 Nov 2026.",
    )
    quiet = ChangedCalls(first, first, last, pd.DataFrame())
    assert squad_words.changed_answer(quiet)[0] == "Nobody's call"
    row = {"name": "A. B", "call_before": "not known", "call_after": "short"}
    row |= {"best_volume_after": 7.0, "best_volume_low_after": 5.0, "best_volume_high_after": 9.0}
    changed = ChangedCalls(first, first, last, pd.DataFrame([row]))
    assert squad_words.changed_answer(changed) == (
        "1 new call",
        "Curves of 20 Nov 2026 against those of 28 Nov 2026.",
    )
    assert squad_words.changed_call(row) == "A. B: not known \u2192 short, best 7 (5 to 9)"


def test_the_squad_in_words_names_everybody_with_an_interval() -> None:
    told = squad_words.squad_in_words(ROWS, 15, "efforts")
    for each in ROWS.to_dict("records"):
        assert f"{each['name']} {numbers.estimated_volume(each)}" in told
    assert [call for call in CALLS if f"{call.capitalize()}:" in told] == list(CALLS)


def test_newer_data_are_counted() -> None:
    assert notices.newer_sentence(1) == "1 new effort is not in the curves yet."
    assert notices.newer_sentence(12) == "12 new efforts are not in the curves yet."


@pytest.mark.parametrize(
    ("sessions", "fade_tests", "reach", "told"),
    [
        (0, 0, None, "Start with a fade test"),
        (3, 0, "inside", "One fade test"),
        (3, 1, "beyond", "A longer fade test"),
        (3, 1, "below", "very short warm-up"),
        (3, 1, "inside", "one shorter, one longer"),
        (3, 1, float("nan"), "one shorter, one longer"),
    ],
)
def test_what_to_collect_next_follows_from_what_there_is(
    sessions: int, fade_tests: int, reach: object, told: str
) -> None:
    gap = {"sessions": sessions, "fade_tests": fade_tests, "reach": reach}
    assert told in data_wanted.next_data(gap)


def test_history_lists_each_fit_with_its_interval() -> None:
    fits = [dict(row("A1")) | {"fitted_at": datetime(2026, month, 1)} for month in (3, 4)]
    told = curve_words.history_sentence(fits, "efforts")
    assert "1 Mar 2026: 40 (28 to 56), long; 1 Apr 2026: 40 (28 to 56), long." in told


def test_one_line_says_why_a_length_is_what_it_is() -> None:
    facts = row("A1") | LENGTHS
    told = row_words.why(facts, 25.0, 25.0, 15.0, own_lengths=True)
    assert plain(told.lost) == "3.0 %" and not told.hollow
    assert told.text == (
        "lost at 15; good range 32 to 50; 5 sessions; 40 would be better, most allowed 25"
    )
    pushed = row_words.why(facts, 22.0, 22.0, 15.0, own_lengths=True)
    assert pushed.text.endswith("; 25 on a usual day")
    for unknown in ({}, row("A4") | LENGTHS, {"length": float("nan")}):
        told = row_words.why(unknown, 15.0, 15.0, 15.0, own_lengths=True)
        assert (told.lost, told.text, told.hollow) == ("", "not known yet", True)


def test_how_to_enter_a_fade_test_includes_its_stop_rule() -> None:
    told = plain(typed_words.how_to_enter(JUMP, "fade", StopRule(0.9, 3)))
    assert "stop when 3 in a row are below 90 % of the best so far" in told
    assert "pain" in told
    assert "how many efforts" in typed_words.how_to_enter(JUMP, "routine", StopRule(0.9, 3))


def test_no_sentence_about_an_estimate_has_a_bare_number() -> None:
    """Every estimate is followed by its interval: no `%` or unit without brackets near it."""
    for code in artificial.ATHLETES:
        for sentence in (
            curve_words.best_sentence(row(code), "efforts"),
            curve_words.loss_sentence(row(code), 15),
            curve_words.gain_sentence(row(code)),
            curve_words.hold_sentence(row(code), "efforts"),
        ):
            assert re.search(r"\d \(\d+(\.\d)? to \d+(\.\d)?\)|%\s\(\d", plain(sentence)), sentence


def test_the_line_under_pages_says_what_new_curves_changed() -> None:
    changed = [fit_news.ChangedCall(f"Athlete {letter}", "not known", "long") for letter in "ABCDE"]
    first, none, some, many = (
        fit_line.news_sentence("Jump height", fit_news.FitNews(1, is_first, tuple(calls)))
        for is_first, calls in ((True, []), (False, []), (False, changed[:1]), (False, changed))
    )
    assert first == "Jump height: the first curves are there."
    assert none == "Jump height: new curves. Nobody's call changed."
    assert some == "Jump height: new curves. Another call: Athlete A (not known \u2192 long)."
    assert many.endswith("Athlete C (not known \u2192 long) and 2 others.")
