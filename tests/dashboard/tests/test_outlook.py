"""The page `Before testing`: what it assumes, what it says, and the plans it keeps to compare."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from dashboard.tests import outlook_words
from dashboard.tests.assumed import Known, known_of
from db.file.store import Store
from db.fits.results import latest_fit
from modeling.day import season_outlook
from modeling.day.season_outlook import Foreseen, SeasonOutlook, SeasonPlan
from tests.dashboard.conftest import SignIn, told

NOBODY = Foreseen(None, None, None, 0)


def outlook(standard: float, own: float, right: Foreseen = NOBODY) -> SeasonOutlook:
    firm = Foreseen(60.0, 40.0, 80.0, 300)
    lost = [Foreseen(each, each / 2, 2 * each, 300) for each in (standard, own, own)]
    return SeasonOutlook(20, firm, right, *lost, Foreseen(8.0, 6.0, 12.0, 300))


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[SeasonPlan]:
    """The plans that are simulated; each gives the same outlook, after two steps of progress."""
    plans: list[SeasonPlan] = []

    def simulated(
        plan: SeasonPlan, squads: int, *, progress: Callable[[float], None]
    ) -> SeasonOutlook:
        assert squads == 20
        progress(0.5)
        plans.append(plan)
        progress(1.0)
        return outlook(4.0, 0.9, Foreseen(91.0, 80.0, 100.0, 180))

    monkeypatch.setattr(season_outlook, "season_outlook", simulated)
    return plans


def test_the_simulation_uses_what_is_known_about_the_squad(
    shown_store: Store, sign_in: SignIn, asked: list[SeasonPlan]
) -> None:
    page = sign_in(shown_store, "dora", "before_testing")
    page.number_input(key="outlook_tests").set_value(2).run()
    page.button[0].click().run()
    (plan,), fit = asked, latest_fit(shown_store, "jump_height")
    assert fit is not None and not page.exception
    known = known_of(shown_store, "jump_height")
    assert known is not None and plan.spread == known.spread
    assert (plan.athletes, plan.protocol.fade_tests, plan.protocol.routine_sessions) == (5, 2, 4)
    assert plan.noise.effort == pytest.approx(fit.effort_noise_pct / 100.0)
    assert plan.protocol.standard == fit.standard_volume and not plan.tidy
    text = told(page).replace("\u00a0", " ")
    assert "Own lengths would bring 3.1 %, with firm calls for 60 %" in text
    assert "Of 100 firm calls about 9 would be wrong." in text
    assert page.table[0].value.iloc[0].tolist() == [
        "Athletes with a firm call",
        "60\u00a0%",
        "40 to 80",
        "300 athletes",
    ]


def test_plans_stand_side_by_side_and_none_is_simulated_twice(
    shown_store: Store, sign_in: SignIn, asked: list[SeasonPlan]
) -> None:
    page = sign_in(shown_store, "dora", "before_testing")
    page.button[0].click().run()
    assert page.button[0].disabled
    page.segmented_control(key="outlook_source").set_value("Typed").run()
    page.number_input(key="outlook_effort").set_value(5.0).run()
    page.segmented_control(key="outlook_kind").set_value("Tidy").run()
    assert len(page.table) == 0, "what was told of another plan does not stand under this one"
    page.button[0].click().run()
    assert [plan.tidy for plan in asked] == [False, True]
    assert asked[1].noise.effort == 0.05 and asked[1].spread == Known().spread
    assert page.table[1].value["Squads"].tolist() == ["as real ones", "tidy"]
    assert page.table[1].value["Firm calls"].tolist() == ["60\u00a0% (40 to 80)"] * 2


def test_without_curves_usual_values_are_filled_in(
    empty_store: Store, sign_in: SignIn, asked: list[SeasonPlan]
) -> None:
    page = sign_in(empty_store, "dora", "before_testing")
    assert "no curves of 10 m sprint to learn the noise from" in told(page)
    page.button[0].click().run()
    assert asked[0].athletes == 15 and asked[0].noise.effort == 0.03
    page.number_input(key="outlook_tests").set_value(0).run()
    page.number_input(key="outlook_sessions").set_value(0).run()
    assert "Plan at least one test or one session." in told(page)
    assert not page.button


def test_what_own_lengths_would_bring_is_compared_with_what_is_worth_having() -> None:
    plan = SeasonPlan()
    assert outlook_words.headline(plan, outlook(1.5, 0.9)).startswith(
        "Own lengths would bring 0.6\u00a0%: less than"
    )
    (_, nobody) = outlook_words.meaning_sentences(outlook(1.5, 0.9))
    assert nobody == "Nobody would get a firm call, so everybody would keep the standard."
    nothing = SeasonOutlook(5, *[NOBODY] * 6)
    assert outlook_words.headline(plan, nothing) == "This plan leaves nothing to tell"
    assert outlook_words.outlook_table(nothing, "efforts")["Expected"].tolist() == ["none"] * 6
