"""Sentences about the noise: how large it is and what that means for a test."""

from __future__ import annotations

from math import ceil, sqrt
from typing import Protocol

import pandas as pd

from dashboard.core.numbers import Row, between, counted, percent
from db.fits.fit_checks import FitCheck
from db.fits.results import KeptFit

EFFORTS_IN_TEST = 5
MOST_DAYS = 50

HOW_TO_READ_NOISE = (
    "dot: typical error; line: its 90\u00a0% interval · dashed: the smallest change worth having"
)


class HasNoise(Protocol):
    """Anything that has the sizes of the noise, in %."""

    @property
    def effort_noise_pct(self) -> float:
        """Noise of efforts."""
        ...

    @property
    def day_noise_pct(self) -> float:
        """Noise of days."""
        ...


def noise_rows(check: FitCheck, fit: HasNoise) -> pd.DataFrame:
    """Return typical errors in %: of efforts, of days, and of tests made of them.

    Columns: `name`, `size`, `size_low`, `size_high`. A test's error combines what is left of the
    efforts' noise with the day's, which more efforts on that day do not reduce. Its interval takes
    both sizes at their ends, so it is a little too wide.
    """
    sizes = {
        "": (fit.effort_noise_pct, fit.day_noise_pct),
        "_low": (check.effort_noise_pct_low, check.day_noise_pct_low),
        "_high": (check.effort_noise_pct_high, check.day_noise_pct_high),
    }
    many = EFFORTS_IN_TEST
    return pd.DataFrame(
        [
            {"name": name} | {f"size{end}": test(*both) for end, both in sizes.items()}
            for name, test in (
                ("effort to effort", lambda effort, day: effort),
                ("day to day", lambda effort, day: day),
                ("test of 1 effort", lambda effort, day: _typical_error(effort, day, 1, 1)),
                (f"test of {many} efforts", lambda e, d: _typical_error(e, d, many, 1)),
                (f"4 tests of {many} efforts", lambda e, d: _typical_error(e, d, many, 4)),
            )
        ]
    )


def noise_sentences(check: FitCheck, fit: KeptFit) -> list[str]:
    """Return what the noise means for one test, for two, and for how many it takes."""
    rows = noise_rows(check, fit).set_index("name")
    effort, day, _, test, _ = (_sized(row) for row in rows.to_dict("records"))
    apart = _sized((rows.iloc[3] * sqrt(2.0)).to_dict())
    enough = percent(fit.worthwhile_pct)
    return [
        f"**An effort varies by {effort}** about the athlete's curve of that day, from"
        f" {counted(fit.efforts, 'effort')}: about two efforts in three lie that close to it. In"
        " brackets stand 90\u00a0% intervals.",
        f"**A day varies by {day}** about the athlete's own level, from"
        f" {counted(fit.sessions, 'session')}: it moves all efforts of the day together.",
        f"**One test of {EFFORTS_IN_TEST} efforts** at the same volume therefore has a typical"
        f" error of {test}. More efforts on the same day help little: the day stays.",
        f"**Two such tests** on two days differ by more than {apart} about one time in three"
        f" though nothing has changed; the smallest change worth having is {enough}.",
        _days_sentence(check, fit),
    ]


def noise_in_words(rows: pd.DataFrame, worthwhile_pct: float) -> str:
    """Return the text equivalent of the picture of the noise."""
    told = "; ".join(f"{row['name']}: {_sized(row)}" for row in rows.to_dict("records"))
    return (
        f"Typical error with its 90\u00a0% interval. {told}. Smallest change worth having:"
        f" {percent(worthwhile_pct)}."
    )


def _days_sentence(check: FitCheck, fit: KeptFit) -> str:
    """Return how many days of tests bring the typical error below the worthwhile change."""
    likely, fewest, most = (
        min(ceil((_typical_error(effort, day, EFFORTS_IN_TEST, 1) / fit.worthwhile_pct) ** 2), 99)
        for effort, day in (
            (fit.effort_noise_pct, fit.day_noise_pct),
            (check.effort_noise_pct_low, check.day_noise_pct_low),
            (check.effort_noise_pct_high, check.day_noise_pct_high),
        )
    )
    days = f"{counted(likely, 'day')} ({fewest} to {most})"
    if likely > MOST_DAYS:
        days = f"more than {MOST_DAYS} days"
    return (
        f"**To bring the typical error to {percent(fit.worthwhile_pct)}** takes {days} of"
        f" {EFFORTS_IN_TEST} efforts."
    )


def _typical_error(effort_pct: float, day_pct: float, efforts: int, days: int) -> float:
    """Return the standard deviation of a mean over efforts on each of some days, in %."""
    return sqrt((effort_pct**2 / efforts + day_pct**2) / days)


def _sized(row: Row) -> str:
    return f"{percent(row['size'])} ({between(row['size_low'], row['size_high'], 1)})"
