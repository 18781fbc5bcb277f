"""Numbers, dates, units and terms, each as the reader is used to them."""

from __future__ import annotations

from datetime import date, datetime

import pytest
from babel import Locale

from dashboard.core import columns, dates, numbers, reader, terms
from dashboard.screen import units
from db.file.settings import get_setting
from db.file.store import Store
from db.imports.effort_files import read_table
from db.imports.storing import check_rows
from demo_team.sample import sample_efforts
from tests.dashboard.conftest import SignIn, told

DAY = date(2026, 11, 3)


@pytest.fixture
def reading(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> Locale:
    """Make this run like a page for a browser in some language."""
    locale = reader.locale_of(request.param)
    for module in (numbers, dates, columns):
        monkeypatch.setattr(module, "reader_locale", lambda: locale)
    return locale


@pytest.mark.parametrize(
    ("tag", "locale"), [("de-DE", "de_DE"), ("pt-BR", "pt_BR"), ("", "en_GB"), ("xx-YY", "en_GB")]
)
def test_a_browser_s_language_is_a_locale_or_english(tag: str, locale: str) -> None:
    assert str(reader.locale_of(tag)) == locale


@pytest.mark.parametrize(
    ("header", "locale"),
    [
        ("de-DE,de;q=0.9,en;q=0.8", "de_DE"),
        ("en;q=0.4, pt-BR", "pt_BR"),
        ("xx-YY, fr-FR;q=0.8", "fr_FR"),
        ("*", "en_GB"),
        ("", "en_GB"),
        ("de;q=9,\x00;;q==,en-US;q=1", "de"),
    ],
)
def test_the_preferred_language_is_taken(header: str, locale: str) -> None:
    assert str(reader.preferred_locale(header)) == locale


def test_without_a_page_numbers_and_dates_are_english() -> None:
    assert reader.reader_locale() == reader.ENGLISH
    assert numbers.with_interval(-1234.56, -0.04, 2, 1) == "\u22121,234.6 (0.0 to 2.0)"
    assert dates.moment(datetime(2026, 11, 3, 17, 30)) == "3 Nov 2026, 17:30"
    assert dates.day(DAY, "long") == "3 November 2026"
    assert dates.day_of_year(DAY) == "3 Nov"


@pytest.mark.parametrize(
    ("reading", "decimal", "count", "day"),
    [
        ("de-DE", "1,5", "12.400 efforts", "3. Nov. 2026"),
        ("fr-FR", "1,5", "12\u202f400 efforts", "3 nov. 2026"),
        ("en-US", "1.5", "12,400 efforts", "Nov 3, 2026"),
    ],
    indirect=["reading"],
)
def test_separators_and_dates_are_the_reader_s(
    reading: Locale, decimal: str, count: str, day: str
) -> None:
    assert numbers.number(1.5) == numbers.decimal(1.5, 1) == numbers.figures(1.5) == decimal
    assert numbers.counted(12400, "efforts") == count
    assert numbers.signed(-1.25, 3) == f"\u2212{decimal}".replace("5", "25")
    assert dates.day(DAY) == day


@pytest.mark.parametrize(
    ("reading", "form"),
    [("en-US", "MMM D, YYYY"), ("en-GB", "D MMM YYYY"), ("de-DE", "localized")],
    indirect=["reading"],
)
def test_columns_write_days_as_sentences_do(reading: Locale, form: str) -> None:
    assert columns.days()["type_config"]["format"] == form


def test_imperial_units_are_exact() -> None:
    foot, mile = 0.3048, 1.609344
    assert units.IMPERIAL["cm"].of(100 * foot) == pytest.approx(12)
    assert units.IMPERIAL["m/s"].of(foot) == pytest.approx(1)
    assert units.IMPERIAL["km/h"].of(mile) == pytest.approx(1)
    # A kilogram is 2.2046226218... pounds, a newton 0.2248089431... (NIST SP 811, appendix B).
    assert units.IMPERIAL["kg"].of(1.0) == pytest.approx(2.2046226218, abs=1e-10)
    assert units.IMPERIAL["N"].of(1.0) == pytest.approx(0.2248089431, abs=1e-10)
    air = units.IMPERIAL["°C"]
    assert [air.of(celsius) for celsius in (-40.0, 0.0, 100.0)] == pytest.approx([-40, 32, 212])
    assert air.back(air.of(17.0)) == pytest.approx(17)
    assert units.shown("cm") == units.Shown("cm")
    assert units.temperature(17.0) == "17\u00a0°C"


def test_a_page_uses_the_browser_s_locale_and_the_club_s_units(
    filled_store: Store, sign_in: SignIn
) -> None:
    units.keep_system(filled_store, "imperial", "dora")
    application = sign_in(filled_store, "carl", "athlete")
    application.context["locale"] = "de-DE"
    application.selectbox(key="athlete").set_value("A1").run()
    assert not application.exception
    text = told(application)
    assert "4,1 to 8,2" in text and "4.1 to 8.2" not in text
    sessions = application.dataframe[0].value
    assert sessions["highest_value"].max() == pytest.approx(40 / 2.54, abs=1)


def test_the_director_chooses_the_units(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "dora", "my_account")
    application.segmented_control(key="units_on_screens").set_value("imperial").run()
    assert "The units are saved." in told(application)
    assert get_setting(filled_store, units.SETTING) == "imperial"
    assert not sign_in(filled_store, "carl", "my_account").segmented_control


def test_terms_are_explained_once_and_in_the_order_of_the_text() -> None:
    said = terms.explained("The calls: best volume before loss. A fade test, fade tests.")
    assert said is not None
    assert [line.split("**")[1] for line in said.split("\n\n")] == [
        "Call",
        "Best volume",
        "Loss",
        "Fade test",
    ]
    assert terms.explained("Nothing of ours.") is None
    assert terms.meaning("gain") in str(terms.explained("From cold to peak: 5 %."))


def test_the_sample_file_is_stored_as_it_is(empty_store: Store) -> None:
    table = read_table(sample_efforts().encode(), "sample.csv")
    check = check_rows(empty_store, table, add_athletes=True)
    assert check.set_aside.empty and len(check.new) == check.rows_read == 124
    assert check.new["kind"].value_counts().index.tolist() == ["fade", "routine"]
