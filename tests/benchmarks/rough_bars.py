"""The bars set for the response model on rough squads, and whether each is met."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from tests.benchmarks.model_scores import INTERVALS
from tests.benchmarks.rough_kinds import Kind
from tests.benchmarks.scores import chances_told, share_right
from tests.benchmarks.squads import STANDARD, WORTHWHILE_PCT

__all__ = ["SIDES", "SQUAD", "bars", "good_range", "held", "squads_of", "to_before"]

SIDES = ["short", "long"]
SQUAD = ["kind", "seed", "part"]
"""Columns that identify a squad."""

MOST_HELD = 0.97
HELD_OVER_ALL = (0.88, 0.94)
LEAST_OF_A_SHAPE = 0.82
RIGHT_OVER_ALL, RIGHT_OF_A_KIND = 0.97, 0.94
CHANCES_APART, OFTEN = 0.05, 100
"""How far chances may lie from what came true, in tenths of the scale with `OFTEN` or more."""

MOST_CALLED_WITHOUT_RESPONSE = 0.01
GOOD_AT_ENDS, GOOD_INSIDE = (0.75, 0.90), 0.92
SQUAD_NUMBERS = {"worth": "worth", "spread_population": "spread"}
SQUAD_HELD = (0.85, 0.95)


@dataclass(frozen=True)
class Asked:
    """Lines that say what was asked, wanted and found, where, and whether it is met."""

    lines: list[tuple[str, str, str, str, str]] = field(default_factory=list)

    def within(
        self, what: str, found: float, least: float = -np.inf, most: float = np.inf, where: str = ""
    ) -> None:
        """Add a line; if nothing was found, it says neither yes nor no."""
        parts = [f"at least {least:g}" if np.isfinite(least) else ""]
        parts.append(f"at most {most:g}" if np.isfinite(most) else "")
        wanted = ", ".join(filter(None, parts))
        if np.isnan(found):
            self.lines.append((what, wanted, "-", where, "-"))
        else:
            met = "yes" if least <= found <= most else "no"
            self.lines.append((what, wanted, f"{found:.3f}", where, met))

    def lowest(self, what: str, found: pd.Series, least: float) -> None:
        """Add a line for the lowest of some shares, which must not be below `least`."""
        where, value = _extreme(found, -1.0)
        self.within(f"{what}, lowest", value, least=least, where=where)

    def highest(self, what: str, found: pd.Series, most: float) -> None:
        """Add a line for the highest of some numbers, which must not be above `most`."""
        where, value = _extreme(found, 1.0)
        self.within(f"{what}, highest", value, most=most, where=where)

    def frame(self) -> pd.DataFrame:
        """Return the lines as a table."""
        columns = ["asked", "wanted", "found", "where", "met"]
        return pd.DataFrame(self.lines, columns=columns).set_index("asked")


def _extreme(found: pd.Series, sign: float) -> tuple[str, float]:
    known = found.dropna()
    if not len(known):
        return "", float("nan")
    where = (sign * known).idxmax()
    return str(where), float(known[where])


def bars(
    own: pd.DataFrame, kinds: Mapping[str, Kind], before: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Check the scores of the response model against every bar.

    Parameters
    ----------
    own : DataFrame
        A line for every squad and athlete, from `rough_scores`.
    kinds : mapping of str to Kind
    before : DataFrame, optional
        The same from an earlier model, to compare losses with.
    """
    weak = own["kind"].isin([name for name, kind in kinds.items() if kind.weak])
    strong = {str(name): part for name, part in own[~weak].groupby("kind", sort=False)}
    responding = own[~weak & (own["responds"] == 1)]
    none = own[own["responds"] == 0]
    asked = Asked()
    if strong:
        _ask_intervals(asked, strong, kinds, responding)
        _ask_losses(asked, strong, kinds, before)
        right = pd.Series({name: share_right(part) for name, part in strong.items()})
        asked.within("firm calls right, over all", share_right(own[~weak]), least=RIGHT_OVER_ALL)
        asked.lowest("firm calls right in a kind", right, RIGHT_OF_A_KIND)
        _ask_chances(asked, own[~weak])
    if len(none):
        called = none["call"].isin(SIDES).mean()
        most = MOST_CALLED_WITHOUT_RESPONSE
        asked.within("called short or long without a response", called, most=most)
    if strong:
        _ask_good_range(asked, own[~weak])
        _ask_squads(asked, strong)
    for name, part in own[weak].groupby("kind", sort=False):
        _ask_next_to_none(asked, str(name), part)
    return asked.frame()


def held(part: pd.DataFrame) -> pd.Series:
    """Return the shares of intervals that hold the truth, among athletes who respond."""
    return part.loc[part["responds"] == 1, INTERVALS].mean()


def squads_of(part: pd.DataFrame) -> pd.DataFrame:
    """Return one line for every squad."""
    return part.drop_duplicates(SQUAD)


def to_before(part: pd.DataFrame, before: pd.DataFrame | None) -> float:
    """Return the mean loss over that of an earlier model, on the same athletes; NaN without one."""
    if before is None:
        return float("nan")
    both = part.merge(before, on=[*SQUAD, "athlete"], suffixes=("", "_before"))
    earlier = both["loss_pct_before"].mean()
    return float(both["loss_pct"].mean() / earlier) if earlier > 0 else float("nan")


def _ask_intervals(
    asked: Asked,
    strong: Mapping[str, pd.DataFrame],
    kinds: Mapping[str, Kind],
    responding: pd.DataFrame,
) -> None:
    by_kind = pd.DataFrame({name: held(part) for name, part in strong.items()}).T
    by_shape = responding.groupby("shape")[INTERVALS].mean()
    small = [name for name in by_kind.index if kinds[name].least_held < Kind.least_held]
    for name in INTERVALS:
        least, most = HELD_OVER_ALL
        asked.within(f"{name} held, mean of kinds", by_kind[name].mean(), least, most)
        asked.lowest(f"{name} held in a kind", by_kind[name].drop(index=small), Kind.least_held)
        for kind in small:
            least = kinds[kind].least_held
            asked.within(f"{name} held in {kind}", by_kind.loc[kind, name], least)
        asked.highest(f"{name} held in a kind", by_kind[name], MOST_HELD)
        asked.lowest(f"{name} held for a true shape", by_shape[name], LEAST_OF_A_SHAPE)


def _ask_losses(
    asked: Asked,
    strong: Mapping[str, pd.DataFrame],
    kinds: Mapping[str, Kind],
    before: pd.DataFrame | None,
) -> None:
    ratios = pd.Series({name: to_before(part, before) for name, part in strong.items()})
    most = pd.Series({name: round(kinds[name].wanted_to_before, 3) for name in strong})
    for name, part in strong.items():
        wanted = kinds[name].wanted_loss_pct
        if np.isfinite(wanted):
            asked.within(f"loss %, {name}", part["loss_pct"].mean(), most=wanted)
        if most[name] != 1.0:
            asked.within(f"loss to the earlier model's, {name}", ratios[name], most=most[name])
    asked.highest("loss to the earlier model's in any other kind", ratios[most == 1.0], 1.0)
    if ratios.notna().any():
        asked.within("kinds that lose more than they may", float((ratios > most).sum()), most=0.0)


def _ask_chances(asked: Asked, strong: pd.DataFrame) -> None:
    told = chances_told(strong)
    often = told[told["count"].astype(int) >= OFTEN]
    apart = (often["came true"] - often["stated"]).abs()
    asked.highest("chances apart from what came true, in a tenth", apart, CHANCES_APART)


def good_range(part: pd.DataFrame) -> pd.Series:
    """Return the shares of good ranges that are right; NaN if the model gives none.

    `from`, `to` and `inside`: the true loss at either end, or at a random volume inside, is at most
    the worthwhile change. `agrees`: the standard lies inside exactly when the call is either.
    """
    some = part.dropna(subset="good_from")
    shares = {
        name: (some[f"good_{name}_loss_pct"] <= WORTHWHILE_PCT).mean()
        for name in ("from", "to", "inside")
    }
    inside = (part["good_from"] <= STANDARD) & (STANDARD <= part["good_to"])
    agrees = (inside == (part["call"] == "either")).mean() if len(some) else np.nan
    return pd.Series(shares | {"agrees": agrees}, dtype=float)


def _ask_good_range(asked: Asked, strong: pd.DataFrame) -> None:
    good = good_range(strong)
    least, most = GOOD_AT_ENDS
    for name, end in (("from", "lower"), ("to", "upper")):
        asked.within(f"true loss small at the good range's {end} end", good[name], least, most)
    asked.within("true loss small at a random volume inside it", good["inside"], GOOD_INSIDE)
    asked.within("the standard inside it exactly when either", good["agrees"], least=1.0)


def _ask_squads(asked: Asked, strong: Mapping[str, pd.DataFrame]) -> None:
    least, most = SQUAD_HELD
    for column, name in SQUAD_NUMBERS.items():
        by_kind = pd.Series({kind: squads_of(part)[column].mean() for kind, part in strong.items()})
        asked.within(f"{name} held, mean of kinds", by_kind.mean(), least, most)
        asked.lowest(f"{name} held in a kind", by_kind, least)
        asked.highest(f"{name} held in a kind", by_kind, most)


def _ask_next_to_none(asked: Asked, name: str, part: pd.DataFrame) -> None:
    called = (part["call"] != "not known").mean()
    asked.within(f"{name}: firm calls of any kind", called, most=0.0)
    sides = part["call"].isin(SIDES).mean()
    asked.within(f"{name}: firm calls short or long", sides, most=0.0)
    squads = squads_of(part)
    ratio = np.sqrt(squads["error"].mean() / squads["mean_curve_error"].mean())
    asked.within(f"{name}: error to that of the squad's mean", float(ratio), most=1.0)
    untold = (part["far_beyond"] == 1) & (part["told_beyond"] == 0)
    asked.within(f"{name}: far beyond what was tried, untold", untold.mean(), most=0.0)
