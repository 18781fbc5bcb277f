from __future__ import annotations

from dataclasses import replace
from datetime import date
from io import BytesIO

import numpy as np
import pandas as pd
import pypdfium2
import pytest

from dashboard.core import cautions
from dashboard.today.training_plan import plan_phone, plan_rows, plan_sheet, plan_table
from dashboard.today.training_sheet import GROUPS, NO_CURVES, SheetHeading, warm_up_sheet
from db.errors import BadInput
from db.file.store import Store
from db.plans.lengths import PlanEntry, save_choice
from db.roster.athletes import save_athletes
from db.roster.statuses import set_status
from tests.dashboard import artificial

HEADING = SheetHeading(
    day=date(2026, 3, 7),
    what="Jump height",
    volume_unit="efforts",
    goal="one best effort",
    evidence="17 sessions, 204 efforts",
    team="Test Club",
)


def sheet_rows(count: int = 5) -> pd.DataFrame:
    rows = artificial.responses(artificial.many(count))
    return rows[["athlete", "name", "position", "advised_volume", "call"]].assign(
        chosen_volume=float("nan"), standard_volume=15.0, filled_up=False
    )


def pages(content: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(content)
    texts = [page.get_textpage().get_text_range().replace("\r\n", "\n") for page in document]
    document.close()
    return [text.replace("\u00a0", " ") for text in texts]


def test_a_sheet_tells_everybody_what_to_do() -> None:
    [text] = pages(warm_up_sheet(sheet_rows(), HEADING))
    for name, *_ in artificial.ATHLETES.values():
        assert name in text
    assert "Warm-up, Saturday 7 March 2026" in text
    assert "Test Club. Jump height. Warm up for one best effort. Volumes in efforts." in text
    assert "Curves from 17 sessions, 204 efforts." in text
    assert "page 1 of 1" in text


def test_athletes_are_grouped_from_long_to_short() -> None:
    [text] = pages(warm_up_sheet(sheet_rows(), HEADING))
    at = [text.index(GROUPS[call]) for call in ("long", "either", "short", "not known")]
    assert at == sorted(at)
    assert at[0] < text.index("Long One") < at[1] < text.index("Either Three") < at[2]


def test_the_cautions_are_on_every_page() -> None:
    for text in pages(warm_up_sheet(sheet_rows(40), HEADING)):
        joined = " ".join(text.split())
        for caution in cautions.CAUTIONS:
            assert caution in joined


def test_a_long_sheet_repeats_its_head_and_numbers_its_pages() -> None:
    texts = pages(warm_up_sheet(sheet_rows(40), HEADING))
    assert len(texts) > 1
    for number, text in enumerate(texts, start=1):
        assert f"page {number} of {len(texts)}" in text
        assert "do (efforts)" in text
        assert "Saturday 7 March 2026" in text


def test_no_group_begins_at_the_foot_of_a_page() -> None:
    for count in range(10, 30):
        for text in pages(warm_up_sheet(sheet_rows(count), HEADING)):
            assert text.strip().splitlines()[-1].strip() not in GROUPS.values()


def test_the_coachs_choice_is_shown_with_the_advice() -> None:
    rows = sheet_rows()
    rows.loc[rows["athlete"] == "A2", "chosen_volume"] = 8.0
    [text] = pages(warm_up_sheet(rows, HEADING))
    assert "set by hand (own length 4)" in " ".join(text.split())


def test_the_same_input_gives_the_same_bytes() -> None:
    assert warm_up_sheet(sheet_rows(30), HEADING) == warm_up_sheet(sheet_rows(30), HEADING)
    assert warm_up_sheet(sheet_rows(30), HEADING) != warm_up_sheet(sheet_rows(29), HEADING)


@pytest.mark.parametrize("name", ["Łukasz Åström", "Σωκράτης Ω", "Nguyễn Đức", "A <b>&</b> Co"])
def test_names_in_any_letters_are_printed(name: str) -> None:
    rows = sheet_rows().assign(name=lambda frame: [name, *frame["name"][1:]])
    [text] = pages(warm_up_sheet(rows, HEADING))
    assert name in text


def test_the_sheet_is_black_on_white() -> None:
    document = pypdfium2.PdfDocument(warm_up_sheet(sheet_rows(), HEADING))
    picture = np.asarray(document[0].render(scale=1).to_pil().convert("RGB"), dtype=int)
    document.close()
    assert np.ptp(picture, axis=2).max() == 0
    assert (picture.min(), picture.max()) == (0, 255)


DAY = date(2026, 3, 20)


CHOICE = PlanEntry(
    day=DAY,
    athlete="A1",
    measure="jump_height",
    goal="best",
    efforts_to_follow=1,
    advised_volume=40.0,
    standard_volume=15.0,
    chosen_volume=40.0,
)


def choose(store: Store, choice: PlanEntry) -> None:
    save_choice(store, choice, "carl")


def test_the_sheet_of_a_day_prints_what_is_saved(filled_store: Store) -> None:
    choose(filled_store, CHOICE)
    against = replace(CHOICE, athlete="A2", chosen_volume=9.0, advised_volume=4.0)
    choose(filled_store, replace(against, reason="back from a break"))
    [text] = pages(plan_sheet(filled_store, DAY, "jump_height"))
    joined = " ".join(text.split())
    assert "Test Club. Jump height: maximal countermovement jumps, hands on hips" in joined
    assert "between two. Warm up for one best effort." in joined
    assert "Curves from 17 sessions, 204 efforts." in joined
    assert "set by hand (own length 4)" in joined and "back from a break" not in joined
    assert "Either Three" not in joined


def test_the_sheet_of_a_day_names_every_saved_goal(filled_store: Store) -> None:
    choose(filled_store, CHOICE)
    choose(filled_store, replace(CHOICE, athlete="A2", goal="sustained", efforts_to_follow=20))
    [text] = pages(plan_sheet(filled_store, DAY, "jump_height"))
    assert "one best effort or the best average over the 20 efforts to follow" in " ".join(
        text.split()
    )


def test_a_training_days_phone_view_and_table_match_the_sheet(
    filled_store: Store,
) -> None:
    choose(filled_store, CHOICE)
    against = replace(CHOICE, athlete="A2", chosen_volume=9.0, advised_volume=4.0)
    choose(filled_store, replace(against, reason="back from a break"))
    phone = plan_phone(filled_store, DAY, "jump_height").decode()
    assert "Training, Friday 20 March 2026" in phone and "Warm up for one best effort." in phone
    assert "<b>40</b>efforts" in phone and "Set by hand (own length 4)." in phone
    assert phone.index("Long One") < phone.index("Short Two"), "who does most stands first"
    assert "start" not in phone and "break" not in phone
    table = pd.read_csv(BytesIO(plan_table(filled_store, DAY, "jump_height")), index_col="athlete")
    assert table["volume"].to_dict() == {"A1": 40, "A2": 9}
    assert table["set_by_hand"].to_dict() == {"A1": "no", "A2": "yes"}
    assert phone.count("Own length, then easy, submaximal efforts.") == 1, "40 is over the most"
    assert "reason" not in table
    set_status(filled_store, "A2", "out", DAY, "calf", "carl")
    for make in (plan_phone, plan_table):
        assert b"Short Two" not in make(filled_store, DAY, "jump_height")


def test_a_day_without_choices_has_no_sheet(filled_store: Store) -> None:
    with pytest.raises(BadInput, match="No lengths are saved for jump height on 20 March"):
        plan_sheet(filled_store, DAY, "jump_height")


def test_a_plan_can_be_printed_before_the_first_fit(unfitted_store: Store) -> None:
    choose(unfitted_store, replace(CHOICE, advised_volume=None))
    [text] = pages(plan_sheet(unfitted_store, DAY, "jump_height"))
    assert NO_CURVES in text
    assert GROUPS["not known"] in text


def test_plan_rows_hold_the_advice_for_the_goal_and_what_is_saved(filled_store: Store) -> None:
    choose(filled_store, replace(CHOICE, chosen_volume=33.0, reason="tired"))
    rows = plan_rows(filled_store, "jump_height", DAY, 1).set_index("athlete")
    assert rows.loc["A1", "chosen_volume"] == 33.0
    assert rows.loc["A1", "reason"] == "tired"
    assert rows.loc["A2", "length"] == 4.0
    assert pd.isna(rows.loc["A2", "chosen_volume"])
    later = plan_rows(filled_store, "jump_height", DAY, 20).set_index("athlete")
    assert later.loc["A2", "length"] < rows.loc["A2", "length"]
    assert later.loc["A3", "length"] == rows.loc["A3", "length"] == 15.0


def test_an_athlete_newer_than_the_fit_is_in_the_plan_without_numbers(filled_store: Store) -> None:
    save_athletes(filled_store, pd.DataFrame([{"athlete": "A9", "name": "New Nine"}]), "test")
    row = plan_rows(filled_store, "jump_height", DAY, 1).set_index("athlete").loc["A9"]
    assert row["call"] == "not known"
    assert pd.isna(row["advised_volume"])
