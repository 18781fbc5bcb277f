"""The rooms of each package, lowest first: what each holds, and its doors down to others.

`tests/test_architecture.py` checks the code against this table, and
`python -m tests.rooms_picture` draws it.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Room:
    """A folder of modules; it may import only from the rooms it has doors to, all below it."""

    name: str
    doors: str
    holds: str

    @property
    def doors_to(self) -> tuple[str, ...]:
        return tuple(self.doors.split())


ROOMS = {
    "dashboard": (
        Room("core", "", "numbers, dates, colours, figures and paper in one way"),
        Room("rules", "core", "what the club sets: limits, stop rules, test days"),
        Room("fits", "core rules", "rows to models, and kept curves back"),
        Room("screen", "core rules fits", "what pages share: access, menu, reads, notices"),
        Room("roster", "core rules screen", "athletes, squads and measures as the club sets them"),
        Room("start", "core rules fits screen roster", "the first steps of a new store"),
        Room("curve", "core fits screen", "one curve: chart, panel, words"),
        Room("data", "core rules fits screen", "importing files, and what looks wrong in them"),
        Room("inbox", "core rules screen data", "a folder whose files are imported by themselves"),
        Room("game", "core rules fits screen", "a game's advice, waves, lines and sheet"),
        Room("lifting", "core rules fits screen", "a session of exercises"),
        Room("serving", "core screen", "the gate in front of every page"),
        Room("live_test", "core rules fits screen curve", "a test taken effort by effort"),
        Room("results", "core rules fits screen game", "whether it worked; trials"),
        Room("sign_in", "core screen serving", "passwords, and the club's own sign-in"),
        Room("today", "core rules fits screen start curve game", "the coach's plan for a day"),
        Room("trust", "core rules fits screen curve", "how sure it is, and how well tests repeat"),
        Room("about", "core screen trust", "what the program is and is not"),
        Room("club", "core screen sign_in", "people, privacy, back-ups"),
        Room("tests", "core rules fits screen curve", "tests worth doing, and typing them in"),
        Room(
            "athlete",
            "core rules fits screen curve game serving tests",
            "one athlete: curve, history, advice",
        ),
        Room(
            "own",
            "core rules fits screen curve game serving results club athlete",
            "the athlete's own page",
        ),
        Room(
            "week",
            "core rules fits screen data game results trust tests athlete",
            "what changed in a week",
        ),
        Room(
            "squad", "core rules fits screen start curve tests athlete week", "the director's squad"
        ),
        Room("frame", "core screen inbox serving club", "what every page has around it"),
        Room(
            "app",
            "core rules fits screen frame data inbox game lifting serving sign_in today trust club"
            " tests athlete own week squad",
            "start, routes, commands",
        ),
        Room(
            "notebook",
            "core fits screen curve trust squad app",
            "the pages' figures, and a store, from Python",
        ),
    ),
    "modeling": (
        Room("compute", "", "where parts of a squad are held: here, processes, machines; sums"),
        Room("curve", "", "the family of curves, what was done as one number, the length"),
        Room("repeat", "", "how well a measure repeats"),
        Room("efforts", "compute curve", "an athlete's efforts, and what they say of every curve"),
        Room("fit", "compute curve efforts", "from efforts to every athlete's curve"),
        Room("lifting", "curve", "loads, sets and their order"),
        Room("testing", "curve", "the stop rule, readings, simulated squads"),
        Room("trial", "curve", "a trial within one athlete"),
        Room("answers", "compute curve efforts fit", "what a fit says: responses, squad, worth"),
        Room("clubs", "compute curve fit", "what squads may tell each other, joined for another"),
        Room("checks", "efforts fit", "does the fit describe the data; wrong data"),
        Room("day", "curve efforts fit testing answers", "advice for one day, and the next test"),
        Room("game", "curve day", "lengths, waves and times of a game"),
    ),
    "db": (
        Room("file", "", "the store's file: opening, changing its schema, checking"),
        Room("tables", "", "rows of any file that people bring"),
        Room("layouts", "tables", "where a table stands in a file, and how its dates are written"),
        Room("backup", "file", "copies, and data to take away"),
        Room("roster", "file tables", "athletes, squads, measures, statuses"),
        Room("imports", "file tables layouts roster", "rows judged, stored, undone"),
        Room(
            "readings",
            "file tables layouts roster imports",
            "what the columns of any file mean, and how sure that is",
        ),
        Room("people", "file roster", "accounts, roles, and who sees what"),
        Room("efforts", "file tables roster imports", "efforts, typed, live or imported"),
        Room("fits", "file tables efforts", "curves and all that follows from them"),
        Room("plans", "file tables roster fits", "games, sessions, trials"),
        Room(
            "privacy",
            "file backup roster fits",
            "what is held on whom; erasing it; data without names",
        ),
    ),
}
AT_THE_DOOR = {
    "dashboard": {"router"},
    "modeling": {"errors", "estimate"},
    "db": {"errors"},
}
"""Modules outside the rooms, which every room may use."""
MOST_MODULES = 16
