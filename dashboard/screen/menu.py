"""The pages there are, what each is for and who may open them."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["HOME", "PLACES", "Place", "file_of"]


@dataclass(frozen=True)
class Place:
    """A page: its name, its file in `dashboard`, its title, where it stands, whose, what for."""

    script: str
    file: str
    title: str
    group: str
    roles: tuple[str, ...]
    purpose: str


STAFF = ("director", "coach")
PLACES = (
    Place(
        "week",
        "week/page.py",
        "This week",
        "Squad",
        ("director",),
        "Tells the director what changed in a week, how plans were followed, which tests "
        "are due and which data to check, each with a link to where it is acted on.",
    ),
    Place(
        "squad",
        "squad/page.py",
        "Squad",
        "Squad",
        STAFF,
        "Shows who is better off with a shorter and who with a longer warm-up, how sure "
        "that is, and whether individual lengths are worth it.",
    ),
    Place(
        "athlete",
        "athlete/page.py",
        "Athlete",
        "Squad",
        STAFF,
        "Shows one athlete's curve with every effort, the length, what the standard"
        " gives away and the season.",
    ),
    Place(
        "tests_to_do",
        "tests/page.py",
        "Tests to do",
        "Squad",
        STAFF,
        "Lists the tests that would teach most this week, and opens them.",
    ),
    Place(
        "athlete_history",
        "athlete/history_page.py",
        "Athlete's history",
        "Squad",
        STAFF,
        "Lists one athlete's sessions and all that was done to them, to correct an effort, "
        "leave it out, or take a decision back.",
    ),
    Place(
        "before_session",
        "today/page.py",
        "Before the session",
        "Sessions",
        STAFF,
        "Sets everybody's warm-up length for a training day or a game, and prints the times"
        " back from the first whistle.",
    ),
    Place(
        "advice",
        "athlete/advice_page.py",
        "Advice for today",
        "Sessions",
        STAFF,
        "Works out what one athlete should do today, for the goal, the temperature, the "
        "hour and the time as a substitute.",
    ),
    Place(
        "session_plan",
        "lifting/page.py",
        "Session plan",
        "Sessions",
        STAFF,
        "Takes a session's exercises in order and says which need a warm-up of their own, "
        "with the sets up to the first that counts as work.",
    ),
    Place(
        "exercises",
        "lifting/exercises_page.py",
        "Exercises",
        "Sessions",
        STAFF,
        "Keeps the exercises that session plans choose from.",
    ),
    Place(
        "run_test",
        "live_test/page.py",
        "Run a test",
        "Sessions",
        STAFF,
        "Takes a test effort by effort, for one athlete or several in turns, and says when "
        "to stop.",
    ),
    Place(
        "enter_efforts",
        "tests/typing_page.py",
        "Enter efforts",
        "Sessions",
        STAFF,
        "Stores one athlete's session that was written down elsewhere.",
    ),
    Place(
        "did_it_work",
        "results/page.py",
        "Did it work",
        "Sessions",
        STAFF,
        "Compares what was planned, what was done and what came of it, and runs a trial of "
        "two lengths with one athlete.",
    ),
    Place(
        "import_efforts",
        "data/page.py",
        "Import",
        "Files",
        STAFF,
        "Stores files of efforts or athletes, after showing what would be stored and what "
        "would be set aside.",
    ),
    Place(
        "map_columns",
        "data/mapping_page.py",
        "Map columns",
        "Files",
        STAFF,
        "Says once how a file with other columns or units is read.",
    ),
    Place(
        "imports_list",
        "data/past_page.py",
        "Past imports",
        "Files",
        STAFF,
        "Lists every import with its counts, and takes one back whole.",
    ),
    Place(
        "how_sure",
        "trust/page.py",
        "How sure",
        "What it can bear",
        ("director",),
        "Checks the curves against what was measured, and says which data would make them surer.",
    ),
    Place(
        "reliability",
        "trust/reliability_page.py",
        "Reliability",
        "What it can bear",
        STAFF,
        "Says how well a measure repeats, which changes it can show, and how many sessions "
        "that takes.",
    ),
    Place(
        "data_checks",
        "data/checks_page.py",
        "Data checks",
        "What it can bear",
        STAFF,
        "Lists what may be wrong in the data, to accept, correct or leave out; every "
        "decision can be undone.",
    ),
    Place(
        "accounts",
        "club/page.py",
        "Accounts",
        "Club",
        ("director",),
        "Says who may sign in, and as what.",
    ),
    Place(
        "trail",
        "club/trail_page.py",
        "Trail",
        "Club",
        ("director",),
        "Lists who did what and when; nothing in it can be changed.",
    ),
    Place(
        "privacy",
        "club/privacy_page.py",
        "Privacy",
        "Club",
        ("director",),
        "Hands over or erases what is held about an athlete, and says how long things are kept.",
    ),
    Place(
        "my_warm_up",
        "own/page.py",
        "My warm-up",
        "Mine",
        ("athlete",),
        "Shows athletes their own curve and length, what to do today and what is kept about"
        " them, and nobody else's.",
    ),
    Place(
        "my_account",
        "club/account_page.py",
        "My account",
        "Mine",
        (*STAFF, "athlete"),
        "Changes one's own password, shows where one is signed in, and lets the director "
        "choose units.",
    ),
    Place(
        "about",
        "about/page.py",
        "About",
        "Mine",
        (*STAFF, "athlete"),
        "Says what the program does, how it works, what its words mean, and what it cannot tell.",
    ),
)

HOME = {"director": "squad", "coach": "before_session", "athlete": "my_warm_up"}
"""The page that each role begins at."""


_FILES = {place.script: place.file for place in PLACES}


def file_of(script: str) -> str:
    """Return the file of a page, as Streamlit's links and menu take it."""
    return _FILES[script]
