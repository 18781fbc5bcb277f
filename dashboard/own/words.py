"""Plain sentences to an athlete: what is set, what has changed, what is kept and who sees it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from dashboard.core import dates
from dashboard.core.numbers import (
    Row,
    capital,
    counted,
    estimated_volume,
    listed,
    number,
    percent_with_interval,
    volume,
)
from dashboard.fits.curve_rows import CurveRow
from dashboard.game import prevention_words, substitute_words
from dashboard.game.lines import Line, WaveLines
from dashboard.results.trials import Trial
from dashboard.rules import weather_words
from dashboard.rules.protocol_words import BUILD_UP
from db.people.accounts import Person
from db.plans.games import Game
from modeling.estimate import Estimate

KEPT_BESIDE = (
    "Whoever runs the club's machine can reach its files and backups. What else names you, such as"
    " the record of who did what, your coach or director hands you on request; a director can also"
    " erase you for good."
)


KINDS = {"fade": "Fade test", "routine": "Usual session"}


def why_sentence(
    row: CurveRow, chosen: float, lost: Estimate | None, reason: tuple[str, str]
) -> str:
    """Return why a game's length is what it is.

    Parameters
    ----------
    row
        From `responses`.
    chosen, lost
        The length, and what is lost with it, in %; `lost` is None if no curve is saved.
    reason
        How it came about, and why it differs from the usual one (`dashboard.own.why.game_reason`).
    """
    best, usual = f"You are best after about {estimated_volume(row)}", number(row["length"])
    gives = ""
    if lost is not None:
        much = percent_with_interval(lost.median, lost.low, lost.high)
        gives = f"loses {much} of your best"
    if number(chosen) == usual:
        return f"{best}: {usual} is your length{f' and {gives}' if gives else ''}."
    came_about, because = reason
    return (
        f"{best}, and your usual length is {usual}. For this game {came_about}"
        f"{f', which {gives}' if gives else ''}{f': {because}' if because else ''}."
    )


def length_words(usual: float, planned: float | None, unit: str) -> str:
    """Return what the usual length is, and the next game's too if that differs."""
    if planned is None or number(planned) == number(usual):
        return f"Your length: {volume(usual, unit)}"
    return f"For the game {number(planned)}, on a usual day {volume(usual, unit)}"


def session_words(session: Row, best: str) -> str:
    """Return what was done in a session, from a row of `db.efforts.rows.sessions`."""
    return f"{KINDS[session['kind']]}, {counted(session['efforts'], 'efforts')}, best {best}"


def kept_sentences(
    counts: str, staff: Sequence[Person], views: Sequence[Row], links: Sequence[Row]
) -> list[str]:
    """Return what the club keeps about an athlete, who may see it and who did."""
    return [
        counts,
        *seen_by_sentences(staff),
        views_sentence(views, staff),
        links_sentence(links, staff),
        KEPT_BESIDE,
    ]


def set_sentence(day: date, length: float, unit: str, around: str = "") -> str:
    """Return what is set for a day, and where the day lies between games."""
    when = "today" if day == date.today() else f"on {dates.day(day)}"
    when += f" ({around})" if around else ""
    return f"Set for you {when}: {volume(length, unit)}."


def trial_sentence(trial: Trial, unit: str) -> str:
    """Return which trial the athlete is in, how far it has got, and what to do in it."""
    return (
        f"You are in a trial of {number(trial.first_volume)} against"
        f" {volume(trial.second_volume, unit)}: {trial.recorded} of {len(trial.sessions)} sessions"
        " done. A lot drew which comes when, so do just what is set, and all else as usual."
    )


def changed_sentence(before: Row, now: Row, unit: str) -> str:
    """Return how the newest curves differ from those before, from rows of `response_history`."""
    more = int(now["sessions"] - before["sessions"])
    behind = f"with {counted(more, 'session')} more" if more > 0 else "from the same sessions"
    was, is_now = number(before["length"]), volume(now["length"], unit)
    moved = f"stayed at {is_now}" if was == number(now["length"]) else ""
    return (
        f"Since {dates.day(before['fitted_at'])} your length has"
        f" {moved or f'gone from {was} to {is_now}'}, {behind}. Where you are best:"
        f" {_best(before)} then, {_best(now)} now (90\u00a0% interval)."
    )


def seen_by_sentences(staff: Sequence[Person]) -> list[str]:
    """Return whose accounts may see the athlete."""
    told = []
    for role, plural in (("director", "directors"), ("coach", "coaches")):
        names = [person.display_name for person in staff if person.role == role]
        if names:
            noun = role if len(names) == 1 else plural
            told.append(f"{len(names)} {noun} may see all of it: {listed(names)}.")
    return [*told, "You yourself see it here. No other athlete does."]


def views_sentence(views: Sequence[Row], staff: Sequence[Person]) -> str:
    """Return who opened pages about the athlete, from rows of `athlete_views`."""
    if not views:
        return "Nobody has opened a page about you alone yet."
    names = {person.person: person.display_name for person in staff}
    each = [
        f"{names.get(view['person'], 'somebody who is no longer here')}"
        f" on {counted(view['days'], 'day')}, last {dates.day(view['last_day'])}"
        for view in views
    ]
    return f"Who opened pages about you: {'; '.join(each)}. Lists of the whole squad do not count."


def links_sentence(links: Sequence[Row], staff: Sequence[Person]) -> str:
    """Return which private links to the athlete's curve are open, from rows of `private_links`."""
    if not links:
        return "No private link to your curve is open."
    names = {person.person: person.display_name for person in staff}
    each = [
        f"made by {names.get(link['person'], 'somebody of the club')}, until"
        f" {dates.day(link['expires_at'])}"
        for link in links
    ]
    verb = "opens" if len(links) == 1 else "open"
    return (
        f"{counted(len(links), 'private link')} {verb} your curve without signing in:"
        f" {'; '.join(each)}. Your coach can revoke it at any time."
    )


def _best(row: Row) -> str:
    return f"{number(round(row['best_volume_low']))} to {number(round(row['best_volume_high']))}"


def game_sentences(game: Game, wave: WaveLines, line: Line, unit: str) -> list[str]:
    """Return what goes with an athlete's times before a game, the same on every page."""
    before = substitute_words.before_start(line)
    told = (
        f"{capital(before)}." if before else "",
        substitute_words.half_time_line(line, unit),
        substitute_words.bench_words(line, wave, unit),
        prevention_words.sentence(game),
        BUILD_UP,
        weather_words.air(game.ambient_c, planned=True),
    )
    return [sentence for sentence in told if sentence]
