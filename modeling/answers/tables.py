"""A fit's answers with volumes as done in usual circumstances: tables, lengths and their worth."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np
import pandas as pd
from pandas.api.typing import NaTType
from sklearn.utils.validation import check_is_fitted

from modeling.answers.frames import curve_frame, response_frame
from modeling.answers.predictor import Predictor
from modeling.answers.squad import Squad
from modeling.answers.worth import Worth, squad_worth
from modeling.curve.account import Circumstances
from modeling.curve.length import Day, Length, Limits
from modeling.curve.length import length as length_of
from modeling.curve.usual_volumes import TOLD_VOLUMES
from modeling.errors import ModelError

__all__ = ["RESPONSE_COLUMNS", "Tables"]

RESPONSE_COLUMNS = (
    "athlete sessions efforts last_session best_volume best_volume_low best_volume_high gain_pct"
    " gain_pct_low gain_pct_high hold_volume hold_volume_low hold_volume_high advised_volume"
    " loss_at_standard_pct loss_at_standard_pct_low loss_at_standard_pct_high chance_short"
    " chance_long chance_either call reach good_from good_to length"
).split()
"""Columns of `Tables.to_frame` before the volumes in effect."""


class Tables(Predictor):
    """The part of `ResponseModel` whose volumes are as done."""

    squad_: Squad
    most_done_: Mapping[object, float]

    def to_frame(
        self,
        athletes: Iterable[object] | None = None,
        limits: Mapping[object, Limits] | None = None,
    ) -> pd.DataFrame:
        """Give the responses as a table, a row for each athlete.

        Parameters
        ----------
        athletes : iterable of object, optional
            Codes; an athlete without data gets the squad's curve. None takes all with data.
        limits : mapping of athlete to Limits, optional
            Limits for `length`, which says what holds for athletes without.

        Returns
        -------
        DataFrame
            `athlete`; `sessions` and `efforts` behind the row; `last_session` (missing where
            efforts have no `started_at`); `best_volume`, `hold_volume`, `advised_volume`,
            `good_from` and `good_to` (missing where there is no good range) and `length`, in the
            unit of volume as done in the squad's usual circumstances; `gain_pct` and
            `loss_at_standard_pct`, in %; `chance_short`, `chance_long`, `chance_either`, 0 to 1;
            `call` and `reach` as in `Response`. Estimates are medians, with 5 % and 95 % quantiles
            in columns that end in `_low` and `_high`. Then come the volumes in effect, in columns
            that end in `_in_effect`, and the usual circumstances, in columns that begin with
            `usual_`. The columns are those of the export `responses`.

        Raises
        ------
        ModelError
            No athlete was named.
        NotFittedError
            The model is not fitted.
        """
        usual = self.usual_volumes
        codes = list(self.responses_) if athletes is None else list(athletes)
        if not codes:
            raise ModelError("Name at least one athlete.")
        rows = response_frame(self.response(code) for code in codes)
        told = limits or {}
        rows["last_session"] = [self._last_session(code) for code in codes]
        rows["length"] = [self.length(code, told.get(code)).volume for code in codes]
        in_effect = rows[list(TOLD_VOLUMES)].add_suffix("_in_effect")
        done = usual.done(rows, TOLD_VOLUMES)[RESPONSE_COLUMNS]
        return done.join(in_effect).assign(**usual.columns())

    def curves(self, athletes: Iterable[object] | None = None) -> pd.DataFrame:
        """Give the curves as long data, a row for each athlete and volume.

        Parameters
        ----------
        athletes : iterable of object, optional
            As for `to_frame`.

        Returns
        -------
        DataFrame
            `athlete`; `volume`, as done in the squad's usual circumstances, from 0 to past the
            largest tried; `change_pct`, the expected change from the athlete's own peak in % of
            it (0 or less), with its 90 % band in `change_pct_low` and `change_pct_high`;
            `volume_in_effect`, and the usual circumstances in columns that begin with `usual_`. The
            columns are those of the export `curves`.

        Raises
        ------
        ModelError
            No athlete was named.
        NotFittedError
            The model is not fitted.
        """
        usual = self.usual_volumes
        codes = list(self.responses_) if athletes is None else list(athletes)
        if not codes:
            raise ModelError("Name at least one athlete.")
        rows = usual.curve_rows(curve_frame((code, self.response(code).curve) for code in codes))
        in_effect = usual.in_effect(rows["volume"])
        return rows.assign(volume_in_effect=in_effect, **usual.columns())

    def placed_efforts(self, athlete: object) -> pd.DataFrame:
        """Give an athlete's efforts as they are drawn over the curve.

        Parameters
        ----------
        athlete : object
            A code; one without data has no rows.

        Returns
        -------
        DataFrame
            A row for each fitted effort: `session`; its `started_at` (missing where efforts have
            none); `volume`, as done, that would have had the same effect in the squad's usual
            circumstances; `value` in its unit; and `share_pct`, in % of the athlete's expected
            value at the peak on that day (more is better).

        Raises
        ------
        NotFittedError
            The model is not fitted.
        """
        rows, peaks = self.posterior(athlete).rows, self.response(athlete).session_peaks
        if rows is None:
            return pd.DataFrame(columns="session started_at volume value share_pct".split())
        session = rows.sessions[rows.session_index]
        value = self._values(rows.value)
        ratio = value / np.array([peaks[each] for each in session])
        return pd.DataFrame(
            {
                "session": session,
                "started_at": [self._began(day) for day in rows.day[rows.session_index]],
                "volume": self.usual_volumes.to_do(rows.volume),
                "value": value,
                "share_pct": 100.0 * (ratio if self.higher_is_better else 1.0 / ratio),
            }
        )

    def length(
        self,
        athlete: object,
        limits: Limits | None = None,
        around: Circumstances | None = None,
    ) -> Length:
        """Give an athlete's length: the standard, unless the call is short or long.

        Parameters
        ----------
        athlete : object
            A code; an athlete without data does the standard.
        limits : Limits, optional
            What may be done, as done. None allows a quarter more than the most that the athlete
            did outside fade tests, or than the standard where that is more.
        around : Circumstances, optional
            The day's circumstances; None is a usual day.

        Returns
        -------
        Length
            In whole units of volume, as done; see `modeling.curve.length`.

        Raises
        ------
        NotFittedError
            The model is not fitted.
        """
        response = self.response(athlete)
        allowed = limits or Limits(max(self.most_done_.get(athlete, 0.0), self.standard_to_do_))
        day = None if around is None else Day(self.account_, self.usual_, around)
        return length_of(self.needs(response), allowed, day)

    def good_range(self, athlete: object) -> tuple[float, float] | None:
        """Give the ends of the good range, as done in the usual circumstances.

        At these volumes the chance is at least `firm_chance` that no more than `worthwhile_pct`
        is lost.

        Parameters
        ----------
        athlete : object
            A code.

        Returns
        -------
        tuple of (float, float) or None
            None if there is no good range, or with too little data of the athlete's own.

        Raises
        ------
        NotFittedError
            The model is not fitted.
        """
        return self.needs(self.response(athlete)).good_range

    def worth(self, volume: float | None = None) -> Worth:
        """Weigh everyone's advised volume against one volume for all.

        Parameters
        ----------
        volume : float, optional
            As done in the usual circumstances; None is the best single volume for the squad.

        Returns
        -------
        Worth
            Its `volume` as done; the mean gain in % of each athlete's own peak.

        Raises
        ------
        ModelError
            The volume is below 0 or not a number.
        NotFittedError
            The model is not fitted, or was read with `from_learned`, which has no squad.
        """
        check_is_fitted(self, "squad_")
        usual = self.usual_volumes
        if volume is None:
            found = self.squad_.against_single
            return replace(found, volume=float(usual.to_do(found.volume)))
        if not (np.isfinite(volume) and volume >= 0):
            raise ModelError(f"volume must be a number, 0 or more. Got {volume}.")
        _, found = squad_worth(
            self.fit_,
            volume=self.volume_,
            standard_volume=float(usual.in_effect(volume)),
            worthwhile_pct=self.worthwhile_pct,
        )
        return replace(found, volume=volume)

    def _last_session(self, athlete: object) -> pd.Timestamp | NaTType:
        """Give the start of an athlete's last session, to the second."""
        rows = self.posterior(athlete).rows
        return pd.NaT if rows is None else self._began(rows.day.max())

    def _began(self, day: float) -> pd.Timestamp | NaTType:
        """Turn a session's day into its start, to the second."""
        if self.midnight_ is None:
            return pd.NaT
        return (self.midnight_ + pd.Timedelta(days=float(day))).round("s")
