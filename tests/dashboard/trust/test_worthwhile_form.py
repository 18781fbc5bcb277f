"""The smallest change worth having: what the club's sessions propose, and one tap to take it."""

from __future__ import annotations

import pytest

from dashboard.app.exports import export_rows
from dashboard.trust.worthwhile_form import Proposal, proposal
from db.file.store import Store
from db.roster.measures import get_measure
from tests.dashboard.conftest import SignIn, told
from tests.dashboard.trust.test_reliability import plain, weir

__all__ = ["weir"]


def test_the_proposal_is_never_below_the_noise() -> None:
    spread, noise = (3.04, 1.5, 4.0), (2.0, 1.6, 2.7)
    found = {"smallest_worthwhile_pct": spread, "typical_error_pct": noise}
    assert proposal(found) == Proposal(3.0, 1.5, 4.0, "spread")
    found = {"smallest_worthwhile_pct": (0.0, 0.0, 1.0), "typical_error_pct": noise}
    assert proposal(found) == Proposal(2.0, 1.6, 2.7, "noise")
    assert proposal({**found, "typical_error_pct": (0.01, 0.0, 0.1)}) is None


def test_a_director_takes_what_the_clubs_sessions_propose(weir: Store, sign_in: SignIn) -> None:
    [cv] = export_rows(weir, "reliability", "squat")["cv_pct"].unique().round(1)
    page = sign_in(weir, "dora", "reliability")
    text = plain(told(page))
    assert f"Your own sessions propose {cv} % (" in text
    assert "the typical error of a session, as anything smaller is lost in it." in text
    assert "From 16 sessions of 8 athletes." in text
    assert plain(page.button(key="worthwhile_take_squat").label) == f"Take {cv} %"
    page.button(key="worthwhile_take_squat").click().run()
    assert get_measure(weir, "squat").worthwhile_pct == pytest.approx(cv)
    assert "follow it when the curves are worked out again" in told(page) and not page.exception
    coach = sign_in(weir, "carl", "reliability")
    assert "A director sets it." in told(coach)
    assert not [each for each in coach.button if each.label.startswith("Take")]
