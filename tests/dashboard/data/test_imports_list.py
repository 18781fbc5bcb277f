"""The page of past imports: what a coach sees and does there."""

from __future__ import annotations

from db.efforts.effort_changes import correct_effort
from db.efforts.rows import efforts
from db.file.store import Store
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.imports.undo import imports_with_undo
from db.people.accounts import set_role
from tests.dashboard.conftest import SignIn, told

PAGE = "imports_list"


def test_the_imports_are_listed_and_add_up(filled_store: Store, sign_in: SignIn) -> None:
    shown = sign_in(filled_store, "carl", PAGE).dataframe[0].value
    counts = shown[["stored", "known", "set aside"]].sum(axis="columns")
    assert counts.tolist() == shown["rows read"].tolist() == [204]
    assert shown["file"].tolist() == ["efforts.csv"]


def test_an_import_is_taken_back_with_a_reason(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "carl", PAGE)
    [button] = application.button
    button.click().run()
    assert "Taking an import back needs a reason" in told(application)
    application.text_input[0].set_value("wrong file")
    application.button[0].click().run()
    assert "efforts.csv was taken back: 204 efforts are no longer used." in told(application)
    assert "Every import has been taken back" in told(application)
    row = application.dataframe[0].value.iloc[0]
    assert (row["taken back by"], row["why"], row["stored"]) == ("carl", "wrong file", 204)
    assert efforts(filled_store, "jump_height").empty


def test_an_import_that_newer_work_depends_on_says_so_and_has_no_button(
    filled_store: Store, sign_in: SignIn
) -> None:
    correct_effort(filled_store, 1, 44.4, "typed wrongly", "carl")
    application = sign_in(filled_store, "dora", PAGE)
    assert "This import cannot be taken back, as newer work depends on it." in told(application)
    assert "Efforts of it that were corrected" in told(application)
    assert not application.button
    assert imports_with_undo(filled_store)["taken_back_at"].isna().all()


def test_a_coach_of_some_squads_asks_the_director(filled_store: Store, sign_in: SignIn) -> None:
    with filled_store.writing("test", "put in a squad") as cursor:
        cursor.execute("INSERT INTO athlete_squad (athlete, squad) VALUES ('A1', 'first')")
    set_role(filled_store, "carl", "coach", by="dora", squads=("first",))
    assert "Nothing was imported yet" in told(sign_in(filled_store, "carl", PAGE))
    row = "A1,2026-05-01T09:00,jump_height,1,40,0"
    header = "athlete,started_at,measure,effort,value,volume_before"
    import_efforts(filled_store, read_table(f"{header}\n{row}".encode(), "own.csv"), "carl")
    application = sign_in(filled_store, "carl", PAGE)
    assert application.dataframe[0].value["file"].tolist() == ["own.csv"]
    assert "Ask the director" in told(application)
    assert not application.button
