from __future__ import annotations

from datetime import date, datetime, time, timedelta

from dashboard.own.game import own_lines
from dashboard.rules.test_days import athlete_days, week_rule
from db.file.store import Store
from db.plans.kept_games import kept_games
from tests.dashboard.conftest import SignIn, told
from tests.dashboard.game.test_game_course import field


def test_a_saved_game_is_removed_after_the_page_says_what_goes_with_it(
    filled_store: Store, sign_in: SignIn
) -> None:
    tomorrow = date.today() + timedelta(days=1)
    application = sign_in(filled_store, "carl")
    application.date_input(key="plan_day").set_value(tomorrow).run()
    assert "Remove this game" not in told(application)
    field(application, "text_input", "plan_start").set_value("18:00").run()
    application.button(key="save_and_print").click().run()
    [kept] = kept_games(filled_store, tomorrow)
    noon = datetime.combine(date.today(), time(12))
    rule = week_rule(filled_store)
    assert athlete_days(filled_store)["A1"].against(noon, rule, False) == [
        "a game is less than 48 hours away"
    ]
    assert own_lines([kept], "A1", noon)
    assert "calendars and the pages of 5 athletes no longer show it" in told(application)
    field(application, "button", "remove_game").click().run()
    assert not application.exception
    assert "is removed." in told(application)
    assert kept_games(filled_store) == []
    assert athlete_days(filled_store)["A1"].against(noon, rule, False) == []
    assert not any("remove_game" in str(each.key) for each in application.button)
