from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

from db.efforts.effort_changes import correct_effort
from db.efforts.rows import efforts, observations
from db.efforts.trail import take_back_change
from db.errors import BadInput
from db.file.checks import check
from db.file.store import Store
from db.fits.finding_decisions import (
    accept_finding,
    correct_finding,
    exchange_finding,
    exclude_finding,
    undo_decision,
)
from db.fits.findings import (
    Findings,
    decided_findings,
    effort_limit,
    finding_efforts,
    open_findings,
)
from db.fits.kept_fits import Conclusions, keep_fit
from db.imports.storing import import_efforts
from db.people.sight import Sight, in_sight
from db.privacy.erasing import erase_athlete
from db.privacy.trail import trail
from db.roster.athletes import save_athletes
from tests.dashboard import artificial
from tests.db.conftest import effort_changes, table_of

JUMP = "jump_height"
ROWS = [
    *(f"A1,2026-03-01T09:00,jump_height,{n},{value},{n}" for n, value in ((1, 40), (2, 41))),
    *(f"A1,2026-03-08T09:00,jump_height,{n},{value},{n}" for n, value in ((1, 16), (2, 16.2))),
    *(f"A2,2026-03-01T09:00,jump_height,{n},{value},{n}" for n, value in ((1, 30), (2, 31))),
]


@pytest.fixture
def measured(store, bring) -> Store:
    bring(*ROWS)
    return store


def found(store: Store, *rows: tuple[str, str | None, str | None, list[int]]) -> Findings:
    """Findings from rows of kind, athlete, other athlete and the places of the efforts."""
    efforts = observations(store, JUMP)
    return Findings(
        effort_limit=4.2,
        findings=pd.DataFrame(
            {
                "place": range(1, len(rows) + 1),
                "kind": [row[0] for row in rows],
                "athlete": [row[1] for row in rows],
                "other_athlete": [row[2] for row in rows],
                "apart_pct": -60.0,
                "noise_pct": 2.5,
                "noise_count": 6,
                "chance": [0.001 * place for place in range(1, len(rows) + 1)],
                "factor": 1 / 2.54,
                "stays": False,
            }
        ),
        efforts=pd.concat(
            [
                efforts.iloc[row[3]].assign(place=place, expected=40.0, key=True)
                for place, row in enumerate(rows, 1)
            ]
        ),
    )


def keep(store: Store, findings: Findings) -> int:
    peaks = observations(store, JUMP).groupby("session_id", as_index=False)["value"].max()
    athletes = {code: artificial.ATHLETES[code] for code in ("A1", "A2")}
    return keep_fit(
        store,
        "tester",
        JUMP,
        replace(artificial.fit_facts(store.revision()), athletes=2),
        artificial.responses(athletes),
        artificial.kept_curves(athletes),
        peaks.rename(columns={"value": "peak_value"}),
        Conclusions(findings=findings),
    )


UNIT = ("unit", "A1", None, [2, 3])
SWAP = ("swap", "A1", "A2", [0, 1, 4, 5])
ONE = ("effort", "A2", None, [4])
ALL = ("device", None, None, [0, 1, 2, 3, 4, 5])


def first(store: Store) -> int:
    return int(open_findings(store, JUMP)["finding_id"].iloc[0])


def state(store: Store) -> list[tuple[float, str | None]]:
    rows = efforts(store, JUMP)
    return list(zip(rows["value"], rows["excluded"].fillna("used"), strict=True))


def undo(store: Store, reason: str = "was right") -> None:
    decision = int(decided_findings(store, JUMP)["decision_id"].iloc[0])
    undo_decision(store, decision, reason, "tester")


def test_findings_are_saved_with_the_fit_and_listed_surest_first(measured: Store) -> None:
    assert effort_limit(measured, JUMP) is None
    keep(measured, found(measured, UNIT, ONE))
    assert effort_limit(measured, JUMP) == 4.2
    assert open_findings(measured, JUMP)["kind"].tolist() == ["unit", "effort"]
    values = finding_efforts(measured, JUMP)
    assert values["value"].tolist() == [16.0, 16.2, 30.0]
    assert values["expected"].tolist() == [40.0] * 3
    assert decided_findings(measured, JUMP).empty
    assert check(measured) == []


def test_a_fit_without_findings_says_that_it_looked(measured: Store) -> None:
    none = found(measured, UNIT)
    keep(measured, replace(none, findings=none.findings.head(0), efforts=none.efforts.head(0)))
    assert effort_limit(measured, JUMP) == 4.2
    assert open_findings(measured, JUMP).empty


def test_an_accepted_finding_does_not_come_back_unless_its_rows_change(measured: Store) -> None:
    keep(measured, found(measured, UNIT))
    before = state(measured)
    accept_finding(measured, first(measured), "a small athlete", "tester")
    assert state(measured) == before
    keep(measured, found(measured, UNIT))
    assert open_findings(measured, JUMP).empty
    assert decided_findings(measured, JUMP)["decision"].tolist() == ["accepted"]
    third = int(efforts(measured, JUMP, "A1")["effort_id"].iloc[2])
    correct_effort(measured, third, 16.5, "typing", "tester")
    keep(measured, found(measured, UNIT))
    assert open_findings(measured, JUMP)["kind"].tolist() == ["unit"]
    assert check(measured) == []


def test_a_unit_is_corrected_as_a_whole_and_changed_back(measured: Store) -> None:
    keep(measured, found(measured, UNIT))
    before = state(measured)
    ids = finding_efforts(measured, JUMP)["effort_id"].astype(int).tolist()
    correct_finding(
        measured, first(measured), dict(zip(ids, (40.64, 41.15), strict=True)), "inches", "tester"
    )
    assert [value for value, _ in state(measured)] == [40, 41, 30, 31, 40.64, 41.15]
    kept = effort_changes(measured, ids[0])
    assert kept[["old_value", "new_value", "reason", "person"]].values.tolist() == [
        [16.0, 40.64, "inches", "tester"]
    ]
    assert open_findings(measured, JUMP).empty
    undo(measured)
    assert state(measured) == before
    assert first(measured)
    actions = trail(measured)["action"].head(2).tolist()
    assert actions == ["undo decision", "correct finding"]
    assert check(measured) == []


def test_a_value_beyond_the_limits_changes_nothing_at_all(measured: Store) -> None:
    keep(measured, found(measured, UNIT))
    before, revision = state(measured), measured.revision()
    ids = finding_efforts(measured, JUMP)["effort_id"].astype(int).tolist()
    with pytest.raises(BadInput, match="cannot be a value of jump height"):
        values = dict(zip(ids, (40.0, 4000.0), strict=True))
        correct_finding(measured, first(measured), values, "factor", "tester")
    assert (state(measured), measured.revision()) == (before, revision)


@pytest.mark.parametrize("finding", [UNIT, ONE, ALL])
def test_a_finding_is_excluded_and_taken_in_again(measured: Store, finding) -> None:
    keep(measured, found(measured, finding))
    before = state(measured)
    ids = finding_efforts(measured, JUMP)["effort_id"].astype(int).tolist()
    exclude_finding(measured, first(measured), ids, "slipped", "tester")
    assert [why for _, why in state(measured)].count("slipped") == len(ids)
    undo(measured)
    assert state(measured) == before
    assert len(open_findings(measured, JUMP)) == 1


def test_two_sessions_are_exchanged_and_changed_back(measured: Store) -> None:
    keep(measured, found(measured, SWAP))
    before = observations(measured, JUMP).drop(columns="session_id")
    exchange_finding(measured, first(measured), "names mixed up", "tester")
    after = observations(measured, JUMP)
    assert after[after["athlete"] == "A2"]["value"].tolist() == [40.0, 41.0]
    assert after[after["athlete"] == "A1"]["value"].tolist() == [30.0, 31.0, 16.0, 16.2]
    assert after["started_at"].dt.second.max() == 1
    everything = efforts(measured, JUMP)
    assert (everything["excluded"] == "names mixed up").sum() == 4
    assert check(measured) == []
    undo(measured)
    pd.testing.assert_frame_equal(observations(measured, JUMP).drop(columns="session_id"), before)
    exchange_finding(measured, first(measured), "names mixed up after all", "tester")
    assert len(observations(measured, JUMP)) == 6
    assert check(measured) == []


def test_only_a_swap_can_be_exchanged(measured: Store) -> None:
    keep(measured, found(measured, UNIT))
    with pytest.raises(BadInput, match="Only two sessions of two athletes"):
        exchange_finding(measured, first(measured), "why not", "tester")


def test_an_impossible_decision_says_why(measured: Store) -> None:
    keep(measured, found(measured, UNIT))
    finding = first(measured)
    ids = finding_efforts(measured, JUMP)["effort_id"].astype(int).tolist()
    with pytest.raises(BadInput, match="needs a reason"):
        exclude_finding(measured, finding, ids, " ", "tester")
    with pytest.raises(BadInput, match="Choose efforts of this finding"):
        exclude_finding(measured, finding, [], "slip", "tester")
    with pytest.raises(BadInput, match="Choose efforts of this finding"):
        exclude_finding(measured, finding, [ids[0], 99], "slip", "tester")
    with pytest.raises(BadInput, match="There is no finding 99"):
        accept_finding(measured, 99, "", "tester")
    accept_finding(measured, finding, "", "tester")
    with pytest.raises(BadInput, match="accepted this as right already"):
        exclude_finding(measured, finding, ids, "slip", "tester")
    with pytest.raises(BadInput, match="Undoing a decision needs a reason"):
        undo(measured, reason="")
    decision = int(decided_findings(measured, JUMP)["decision_id"].iloc[0])
    undo(measured)
    with pytest.raises(BadInput, match="undone or decided anew since"):
        undo_decision(measured, decision, "again", "tester")
    correct_effort(measured, ids[0], 40.0, "elsewhere", "tester")
    with pytest.raises(BadInput, match="changed since it was found"):
        accept_finding(measured, finding, "", "tester")


def test_an_effort_whose_exclusion_was_taken_back_is_found_again(measured: Store) -> None:
    keep(measured, found(measured, ONE))
    [effort] = finding_efforts(measured, JUMP)["effort_id"].astype(int)
    exclude_finding(measured, first(measured), [effort], "slipped", "tester")
    with measured.reading() as cursor:
        ((change,),) = cursor.execute("SELECT max(change_id) FROM effort_change").fetchall()
    take_back_change(measured, change, "did not slip", "tester")
    keep(measured, found(measured, ONE))
    assert open_findings(measured, JUMP)["kind"].tolist() == ["effort"]


def test_a_decision_is_not_undone_over_a_newer_change(measured: Store) -> None:
    keep(measured, found(measured, UNIT))
    ids = finding_efforts(measured, JUMP)["effort_id"].astype(int).tolist()
    correct_finding(
        measured, first(measured), dict(zip(ids, (40.64, 41.15), strict=True)), "inches", "tester"
    )
    correct_effort(measured, ids[1], 41.2, "read again", "tester")
    before = state(measured)
    with pytest.raises(BadInput, match="changed again since"):
        undo(measured)
    assert state(measured) == before


def test_a_coach_sees_and_decides_only_findings_about_their_squad(measured: Store) -> None:
    save_athletes(measured, pd.DataFrame({"athlete": ["A1"], "squad": ["First"]}), "tester")
    keep(measured, found(measured, UNIT, SWAP, ONE, ALL))
    coach = in_sight(measured, Sight("yara", None, ("First",)))
    assert open_findings(coach, JUMP)["kind"].tolist() == ["unit"]
    assert set(finding_efforts(coach, JUMP)["athlete"]) == {"A1"}
    everything = open_findings(measured, JUMP).set_index("kind")["finding_id"]
    for kind in ("swap", "effort", "device"):
        with pytest.raises(BadInput, match="There is no finding"):
            accept_finding(coach, int(everything[kind]), "", "yara")
    accept_finding(coach, int(everything["unit"]), "", "yara")
    assert decided_findings(coach, JUMP)["decided_by"].tolist() == ["yara"]
    accept_finding(measured, int(everything["effort"]), "right", "tester")
    with pytest.raises(BadInput, match="undone or decided anew since"):
        undo_decision(coach, 2, "not mine", "yara")


def test_an_erased_athlete_leaves_no_finding_and_no_value(closed_store: Store) -> None:
    measured = closed_store
    import_efforts(measured, table_of(ROWS), "tester")
    keep(measured, found(measured, SWAP, ONE, ALL, UNIT))
    accept_finding(measured, first(measured), "A2 was there", "tester")
    erase_athlete(measured, "A2", "tester")
    assert open_findings(measured, JUMP)["kind"].tolist() == ["device", "unit"]
    with measured.reading() as cursor:
        left = cursor.execute("SELECT kind FROM finding ORDER BY 1").fetchall()
        values = cursor.execute("SELECT DISTINCT value FROM finding_effort").fetchall()
    assert left == [("device",), ("unit",)]
    assert not {30.0, 31.0} & {value for (value,) in values}
    assert check(measured) == []
