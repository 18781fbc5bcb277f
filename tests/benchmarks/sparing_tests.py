"""How many maximal efforts tests need until enough is known, and what is then lost.

    python -m tests.benchmarks.sparing_tests --squads 4 --kinds mixed noisy

Rough squads that begin with four routine sessions each are tested in several ways: with two fade
tests up to the stop rule; with two that end when going on is not worth it, for everyone or only
for athletes without a firm call; with routine sessions at assigned volumes only; and with what the
program proposes, including fade tests that end early. Except in the first way, athletes whose next
test is worth next to nothing are not tested again. All ways share the true curves and the first
sessions. The squads, seeds 500 on, were drawn for nothing else.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from dashboard.fits.next_tests import LEAST_WORTH_PCT, least_of_fade
from modeling import ResponseModel
from modeling.day.next_test import NextTest, next_tests
from modeling.day.rest_of_test import ENOUGH_PCT, rest_of_test
from modeling.testing.rough_squads import MovingBest
from modeling.testing.simulated_tests import ROUTINE_EFFORTS
from modeling.testing.simulation import Protocol, Truth, fade_test, routine_session
from tests.benchmarks.markdown import table
from tests.benchmarks.rough_kinds import KINDS, Kind
from tests.benchmarks.scores import true_call
from tests.benchmarks.squads import STANDARD, WORTHWHILE_PCT

__all__ = ["WAYS", "main", "squad_tested"]

FIRST_SEED = 500
BEFORE = Protocol(fade_tests=0, routine_sessions=4)
LATE = 40.0
LOOKS = 2
"""Efforts between two looks ahead: it takes half the time, and one effort more at most."""
FEWEST = 4
MOST_ROUNDS = 8

FloatArray = NDArray[np.float64]
Choice = Callable[[ResponseModel, str, list[NextTest]], NextTest | None]


def _two_full(model: ResponseModel, code: str, found: list[NextTest]) -> NextTest | None:
    return next(each for each in found if each.kind == "fade")


def _two_ended(model: ResponseModel, code: str, found: list[NextTest]) -> NextTest | None:
    fade = next(each for each in found if each.kind == "fade")
    return fade if fade.worth_pct >= ENOUGH_PCT else None


def _until_firm(model: ResponseModel, code: str, found: list[NextTest]) -> NextTest | None:
    return _two_ended(model, code, found) if _is_open(model, code) else None


def _assigned(model: ResponseModel, code: str, found: list[NextTest]) -> NextTest | None:
    routine = next(each for each in found if each.kind == "routine")
    worth_it = _is_open(model, code) and routine.worth_pct >= LEAST_WORTH_PCT
    return routine if worth_it else None


def _proposed(model: ResponseModel, code: str, found: list[NextTest]) -> NextTest | None:
    """Take the first test on the list of next tests."""
    least = {"fade": least_of_fade(WORTHWHILE_PCT), "routine": LEAST_WORTH_PCT}
    listed = [each for each in found if each.worth_pct >= least[each.kind]]
    return listed[0] if listed and _is_open(model, code) else None


def _is_open(model: ResponseModel, code: str) -> bool:
    return model.response(code).call == "not known"


WAYS: dict[str, tuple[Choice, int, bool]] = {
    "two full fade tests": (_two_full, 2, False),
    "two that end when enough is known": (_two_ended, 2, True),
    "the same, until a firm call": (_until_firm, 2, True),
    "assigned volumes only": (_assigned, MOST_ROUNDS, False),
    "what is proposed": (_proposed, MOST_ROUNDS, True),
}
"""How an athlete's next test is chosen, how often at most, and whether fade tests end early."""


def squad_tested(kind: Kind, seed: int, way: str) -> pd.DataFrame:
    """Test a squad in one of the ways; return a row per athlete."""
    choose, rounds, sparing = WAYS[way]
    begun = replace(kind, squad=replace(kind.squad, protocol=BEFORE), first_seed=FIRST_SEED)
    truths, frame = begun.draw(seed)
    codes = sorted(frame["athlete"].unique())
    rng = np.random.default_rng([FIRST_SEED + seed, 1])
    efforts = dict.fromkeys(codes, 0)
    model = _fitted(frame)
    for number in range(rounds):
        found = next_tests(model, codes)
        new = []
        for code, truth in zip(codes, truths, strict=True):
            test = choose(model, code, [each for each in found if each.athlete == code])
            if test is None:
                continue
            rows = _done(kind, model, frame, test, truth, number, rng, sparing)
            efforts[code] += len(rows)
            new.append(rows)
        if not new:
            break
        frame = pd.concat([frame, *new], ignore_index=True)
        model = _fitted(frame)
    return pd.DataFrame(_scores(model, codes, truths, efforts)).assign(
        kind=kind.name, seed=seed, way=way
    )


def _fitted(frame: pd.DataFrame) -> ResponseModel:
    model = ResponseModel(standard_volume=STANDARD, worthwhile_pct=WORTHWHILE_PCT)
    return model.fit(frame, frame["value"])


def _done(
    kind: Kind,
    model: ResponseModel,
    frame: pd.DataFrame,
    test: NextTest,
    truth: Truth,
    number: int,
    rng: np.random.Generator,
    sparing: bool,
) -> pd.DataFrame:
    """Do a test as an athlete of the kind would."""
    moving = MovingBest(kind.squad.best_log_sd) if kind.squad.best_log_sd else None
    in_effect = None if moving is None else moving.of_session(rng)[1]
    if test.kind == "fade":
        volume, value = fade_test(truth, kind.squad.noise, rng, in_effect=in_effect)
    else:
        # Athletes hit the volume they meant only roughly.
        first = max(0, round(test.volume * float(np.exp(0.25 * rng.standard_normal()))))
        volume = first + np.arange(ROUTINE_EFFORTS, dtype=float)
        value = routine_session(truth, volume, kind.squad.noise, rng, in_effect)
    if kind.squad.read_to:
        value = (value / kind.squad.read_to).round() * kind.squad.read_to
    new = pd.DataFrame({"volume": volume, "value": value}).assign(
        athlete=test.athlete, session=f"{test.athlete}-test-{number}", kind=test.kind
    )
    new["day"] = 7.0 * (BEFORE.routine_sessions + 1 + number)
    if sparing and test.kind == "fade":
        new = new.iloc[: _enough_after(model, frame, new)]
    return new


def _enough_after(model: ResponseModel, frame: pd.DataFrame, test: pd.DataFrame) -> int:
    own = frame[frame["athlete"] == test["athlete"].iloc[0]]
    for made in range(FEWEST, len(test), LOOKS):
        rows = pd.concat([own, test.iloc[:made]], ignore_index=True)
        if rest_of_test(model, rows, rows["value"], test["session"].iloc[0]).is_enough:
            return made
    return len(test)


def _scores(
    model: ResponseModel, codes: list[str], truths: list[Truth], efforts: dict[str, int]
) -> Iterable[dict[str, object]]:
    for code, truth in zip(codes, truths, strict=True):
        response = model.responses_[code]
        called = response.call != "not known"
        right = float(response.call == true_call(truth))
        yield {
            "efforts": float(efforts[code]),
            "late_efforts": float(efforts[code]) if truth.best_volume > LATE else np.nan,
            "loss_pct": truth.loss_pct(response.advised_volume),
            "called": float(called),
            "right": right if called else np.nan,
            "called_right": right,
        }


def main() -> None:
    """Test the squads and print a table for each kind and for all."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--squads", type=int, default=4, help="squads of each kind")
    parser.add_argument("--kinds", nargs="+", default=["mixed", "noisy", "moving", "lasting"])
    asked = parser.parse_args()
    done = []
    for name in asked.kinds:
        for seed in range(asked.squads):
            done += [squad_tested(KINDS[name], seed, way) for way in WAYS]
        print(f"\n{name}\n\n{_summary(pd.concat(done).query('kind == @name'))}", flush=True)
    print(f"\nall\n\n{_summary(pd.concat(done))}")


def _summary(rows: pd.DataFrame) -> str:
    means = rows.groupby("way", sort=False)[
        ["efforts", "late_efforts", "loss_pct", "called", "right", "called_right"]
    ].mean()
    full = means.iloc[0]
    means["of full"] = means["efforts"] / full["efforts"]
    means["late of full"] = means["late_efforts"] / full["late_efforts"]
    means["more loss"] = means["loss_pct"] - full["loss_pct"]
    means["athletes"] = rows.groupby("way", sort=False).size()
    return table(means.rename_axis("way"), "{:.3f}")


if __name__ == "__main__":
    main()
