"""Small artificial results: five athletes, one for each call and one without data."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from db.fits.advice_bases import EFFECT_COLUMNS, AdviceBase, AdviceRows
from db.fits.findings import EFFORT_COLUMNS, FINDING_COLUMNS, Findings
from db.fits.fit_checks import FitCheck
from db.fits.kept_fits import Conclusions
from db.fits.results import FitFacts
from modeling.curve.account import CONSTANTS

STANDARD = 15.0
CHANCES = {
    "long": (0.01, 0.97, 0.02),
    "short": (0.98, 0.005, 0.015),
    "either": (0.05, 0.05, 0.9),
    "not known": (0.5, 0.2, 0.3),
}
ATHLETES = {
    "A1": ("Long One", "wing", "long", 40.0, 5),
    "A2": ("Short Two", "wing", "short", 4.0, 6),
    "A3": ("Either Three", "centre", "either", 14.0, 4),
    "A4": ("Unknown Four", "centre", "not known", 9.0, 2),
    "A5": ("Untested Five", None, "not known", 10.0, 0),
}
Athletes = Mapping[str, tuple[str, str | None, str, float, int]]
"""Code: name, position, call, best volume, sessions."""

VOLUMES = np.arange(0.0, 61.0, 2.0)


def change_pct(best: float) -> np.ndarray:
    """Rise by 6 % up to the best volume, then fall by 10 % over another 2.5 times that volume."""
    rise = -6.0 * np.clip(1 - VOLUMES / best, 0, None) ** 1.5
    fall = -10.0 * (np.clip(VOLUMES - best, 0, None) / (2.5 * best)) ** 1.5
    return rise + fall


def many(count: int) -> Athletes:
    """Return the five athletes, with more to make a squad of `count`."""
    athletes: dict[str, tuple[str, str | None, str, float, int]] = dict(ATHLETES)
    for number in range(len(ATHLETES) + 1, count + 1):
        best = round(3.0 + 1.3 ** (number / 2), 1)
        call = "short" if best < 9 else "either" if best < 22 else "long"
        athletes[f"A{number}"] = (f"Athlete Number{number}", "wing", call, best, 3)
    return athletes


def responses(athletes: Athletes = ATHLETES) -> pd.DataFrame:
    """Rows as `db.fits.results.responses` gives them."""
    rows = []
    for code, (name, position, call, best, sessions) in athletes.items():
        loss = -float(np.interp(STANDARD, VOLUMES, change_pct(best)))
        short, long, either = CHANCES[call]
        rows.append(
            {
                "athlete": code,
                "name": name,
                "position": position,
                "active": True,
                "sessions": sessions,
                "efforts": 12 * sessions,
                "last_session": pd.Timestamp("2026-03-14 10:00") if sessions else pd.NaT,
                "best_volume": best,
                "best_volume_low": 0.7 * best,
                "best_volume_high": 1.4 * best,
                "best_volume_q25": 0.9 * best,
                "best_volume_q75": 1.1 * best,
                "gain_pct": 6.0,
                "gain_pct_low": 4.1,
                "gain_pct_high": 8.2,
                "hold_volume": 2.5 * best,
                "hold_volume_low": 2.0 * best,
                "hold_volume_high": 3.0 * best,
                "advised_volume": best,
                "loss_at_standard_pct": loss,
                "loss_at_standard_pct_low": 0.5 * loss,
                "loss_at_standard_pct_high": 1.5 * loss,
                "chance_short": short,
                "chance_long": long,
                "chance_either": either,
                "call": call,
                "reach": "beyond" if code == "A4" else "inside",
                "length": best if call in ("short", "long") else STANDARD,
                "good_from": np.nan if call == "not known" else 0.8 * best,
                "good_to": np.nan if call == "not known" else 1.25 * best,
            }
        )
    return pd.DataFrame(rows)


def curves(athletes: Athletes = ATHLETES) -> pd.DataFrame:
    """Rows as `db.fits.results.curves` gives them."""
    return pd.concat(
        [_curve(code, best) for code, (_, _, _, best, _) in athletes.items()], ignore_index=True
    )


def _curve(code: str | None, best: float) -> pd.DataFrame:
    change = change_pct(best)
    return pd.DataFrame(
        {
            "athlete": code,
            "volume": VOLUMES,
            "change_pct": change,
            "change_pct_low": change - 1.0,
            "change_pct_high": np.minimum(change + 1.0, 0.0),
        }
    )


def kept_curves(athletes: Athletes = ATHLETES) -> pd.DataFrame:
    """Rows as `db.fits.kept_fits.keep_fit` takes them: the squad's curve and everybody's."""
    return pd.concat([_curve(None, 12.0), curves(athletes)], ignore_index=True)


def points(code: str = "A1") -> pd.DataFrame:
    """Rows as `dashboard.fits.usual_terms.placed_efforts` gives them."""
    best = ATHLETES[code][3]
    return pd.DataFrame(
        {
            "volume": [0.0, 10.0, 20.0, 30.0],
            "share_pct": 100 + np.interp([0.0, 10.0, 20.0, 30.0], VOLUMES, change_pct(best)),
            "value": [38.0, 39.0, 40.0, 40.5],
            "told": ["38 cm", "39 cm", "40 cm", "40.5 cm"],
            "started_at": pd.Timestamp("2026-03-14 10:00"),
        }
    )


def efforts_csv(athletes: Athletes = ATHLETES) -> bytes:
    """An efforts file: fade tests of 12 jumps, with each athlete's number of sessions."""
    lines = ["athlete,started_at,measure,effort,value,volume_before,kind"]
    for code, (*_, best, sessions) in athletes.items():
        for session in range(sessions):
            for effort in range(12):
                change = float(np.interp(effort, VOLUMES, change_pct(best)))
                value = 40 * (1 + change / 100) + 0.3 * (-1) ** (effort + session)
                lines.append(
                    f"{code},2026-03-{session + 9:02d}T10:00,jump_height,{effort + 1},"
                    f"{value:.2f},{effort},fade"
                )
    return "\n".join(lines).encode()


def athlete_rows(athletes: Athletes = ATHLETES) -> pd.DataFrame:
    """Rows as `db.roster.athletes.save_athletes` takes them."""
    return pd.DataFrame(
        [
            {"athlete": code, "name": name, "position": position}
            for code, (name, position, *_) in athletes.items()
        ]
    )


def fit_facts(data_revision: int) -> FitFacts:
    return FitFacts(
        data_revision=data_revision,
        settings_json="{}",
        version="0",
        seconds=0.5,
        athletes=4,
        sessions=17,
        efforts=204,
        standard_volume=STANDARD,
        worthwhile_pct=1.5,
        best_single_volume=11.0,
        worth_of_individual_pct=2.2,
        worth_of_individual_pct_low=1.7,
        worth_of_individual_pct_high=2.9,
        spread_log_sd=0.8,
        spread_log_sd_low=0.5,
        spread_log_sd_high=1.2,
        chance_athletes_differ=0.97,
        day_noise_pct=2.0,
        effort_noise_pct=3.0,
        warnings="Few sessions: four athletes.",
    )


def advice_rows(athletes: Athletes = ATHLETES) -> AdviceRows:
    """Curves for the advice: 20 draws of each curve, from flatter to deeper, on a usual day.

    The usual circumstances are the reference context and the hour has no effect, so the volume to
    do is also the volume in effect.
    """
    values = {"general_per_minute": 0.3, "half_life_minutes": 21.0, "stretch_per_degree": 0.01}
    constants = pd.DataFrame(
        {
            "constant": constant.name,
            "status": "default",
            "value": values.get(constant.name, 0.0),
            "low": constant.low,
            "high": constant.high,
        }
        for constant in CONSTANTS
    )
    depths = np.linspace(0.7, 1.3, 20)
    draws = pd.DataFrame(
        {
            "athlete": code,
            "draws": len(depths),
            "change": np.log1p(np.maximum(np.outer(change_pct(best), depths), -90) / 100)
            .astype("<f4")
            .tobytes(),
        }
        for code, (_, _, _, best, _) in athletes.items()
    )
    base = AdviceBase(STANDARD, 0.0, 0.0, 20.0, 16.0, volumes=VOLUMES)
    return AdviceRows(base, constants, pd.DataFrame(columns=EFFECT_COLUMNS), draws)


def next_tests(athletes: Athletes = ATHLETES) -> pd.DataFrame:
    """A fade test and a routine session for each athlete, worth less after more sessions."""
    return pd.DataFrame(
        {
            "athlete": code,
            "kind": kind,
            "volume": 0.0 if kind == "fade" else best,
            "worth_pct": (0.6 if kind == "fade" else 0.06) / (1.0 + sessions),
            "sessions_to_firm_call": 0.0 if call != "not known" else 2.0 if sessions else np.nan,
            "takes": best + 12.0 if kind == "fade" else 3.0,
            "takes_low": best + 3.0 if kind == "fade" else 3.0,
            "takes_high": best + 40.0 if kind == "fade" else 3.0,
        }
        for code, (_, _, call, best, sessions) in athletes.items()
        for kind in ("fade", "routine")
    )


def worth() -> pd.DataFrame:
    """Rows as `db.fits.squad_worth.squad_worth` gives them, for `fit_facts`."""
    return pd.DataFrame(
        {
            "against": ["best single", "standard"],
            "volume": [11.0, STANDARD],
            "worth_pct": [2.2, 2.6],
            "worth_pct_low": [1.7, 2.0],
            "worth_pct_high": [2.9, 3.3],
            "athletes": 4,
            "gaining": [2.0, 3.0],
            "gaining_low": [1.0, 2.0],
            "gaining_high": [3.0, 4.0],
        }
    )


def changes(tested: pd.DataFrame) -> pd.DataFrame:
    """Rows as `db.fits.kept_fits.keep_fit` takes them: one told, one not tellable, one unlikely."""
    rows = []
    told = ((0.93, True), (0.85, False), (0.06, True))
    codes = sorted(tested["athlete"].unique())
    for code, (chance, tellable) in zip(codes, told, strict=False):
        sessions = sorted(tested.loc[tested["athlete"] == code, "session_id"].unique())
        rows.append(
            {
                "athlete": code,
                "chance": chance,
                "tellable": tellable,
                "since_session_id": sessions[-2],
                "earliest_session_id": sessions[-3],
                "latest_session_id": sessions[-1],
                "sessions_since": 2,
                "before": 20.0,
                "before_low": 16.0,
                "before_high": 25.0,
                "after": 40.0,
                "after_low": 31.0,
                "after_high": 52.0,
            }
        )
    return pd.DataFrame(rows)


def fit_check() -> FitCheck:
    """A check of `fit_facts`: 10 of 11 bands and 16 of 17 sessions are inside."""
    tops = np.array([1.0, 3, 5, 7, 9, 11, 13, 15, 20, 30, 60])
    bottoms = np.concatenate([[0.0], tops[:-1] + 1])
    middle = (bottoms + tops) / 2
    expected = change_pct(15.0)[np.searchsorted(VOLUMES, middle)]
    bands = pd.DataFrame(
        {
            "band": range(1, 12),
            "efforts": 18,
            "lowest_volume": bottoms,
            "highest_volume": tops,
            "mean_volume": middle,
            "observed_pct": expected + np.where(tops == 20, -0.9, 0.2),
            "expected_pct": expected,
            "low_pct": expected - 0.4,
            "high_pct": expected + 0.4,
        }
    )
    counts = [1, 2, 2, 1, 3, 2, 2, 2, 1, 1]
    places = pd.DataFrame({"tenth": range(1, 11), "sessions": counts, "fewest": 0, "most": 4})
    return FitCheck(
        effort_noise_pct_low=2.8,
        effort_noise_pct_high=3.3,
        day_noise_pct_low=1.4,
        day_noise_pct_high=2.9,
        sessions=17,
        sessions_inside=16,
        efforts=204,
        efforts_inside=186,
        bands=bands,
        places=places,
    )


def routine_csv(sessions: int = 4) -> bytes:
    """Routine sessions of three jumps by four athletes, with random noise of days and efforts."""
    random = np.random.default_rng(1)
    rows = ["athlete,started_at,measure,effort,value,volume_before,kind"]
    for code, level in {"A1": 36, "A2": 40, "A3": 44, "A4": 48}.items():
        for session in range(sessions + (code == "A1")):
            day = random.normal(0, 0.02)
            rows += [
                f"{code},2026-05-{session + 1:02d}T10:00,jump_height,{effort + 1},"
                f"{level * (1 + day + random.normal(0, 0.02)):.2f},{14 + effort},routine"
                for effort in range(3)
            ]
    return "\n".join(rows).encode()


def findings(tested: pd.DataFrame) -> Findings:
    """One finding of each kind, the surest first; `tested` is `db.efforts.rows.observations`."""
    sessions = tested["session_id"].drop_duplicates().tolist()
    of = {code: rows["session_id"].unique().tolist() for code, rows in tested.groupby("athlete")}
    one, two, three, *_ = sorted(of, key=lambda code: (len(code), code))
    kinds = [
        ("unit", two, None, 1 / 2.54, [of[two][1]]),
        ("effort", one, None, np.nan, [of[one][1]]),
        ("jump", three, None, np.nan, [of[three][1]]),
        ("swap", one, three, 420.0, [of[one][2], of[three][2]]),
        ("duplicate", two, None, np.nan, of[two][3:5]),
        ("device", None, None, np.nan, sessions[-3:]),
    ]
    rows = pd.DataFrame(
        [
            {
                "place": place,
                "kind": kind,
                "athlete": athlete,
                "other_athlete": other,
                "apart_pct": -12.5,
                "noise_pct": 2.3,
                "noise_count": 60,
                "chance": 0.001 * place,
                "factor": factor,
                "stays": kind == "device",
            }
            for place, (kind, athlete, other, factor, _) in enumerate(kinds, 1)
        ]
    )
    efforts = [
        tested[tested["session_id"].isin(its)]
        .head(1 if kind == "effort" else 100)
        .assign(place=place, expected=40.0, key=True)
        for place, (kind, *_, its) in enumerate(kinds, 1)
    ]
    return Findings(4.2, rows, pd.concat(efforts))


def nothing_found() -> Findings:
    """The findings for data with nothing wrong."""
    none = pd.DataFrame(columns=FINDING_COLUMNS), pd.DataFrame(columns=EFFORT_COLUMNS)
    return Findings(4.0, *none)


def conclusions(athletes: Athletes, tested: pd.DataFrame) -> Conclusions:
    """All that follows from `fit_facts`; `tested` is `db.efforts.rows.observations`."""
    return Conclusions(
        check=fit_check(),
        findings=findings(tested),
        next_tests=next_tests(athletes),
        changes=changes(tested),
    )
