"""What warmcurve does and how, in plain words, and where its constants and rules come from."""

from __future__ import annotations

import pandas as pd

from dashboard.core import numbers
from modeling.curve import waiting
from modeling.curve.account import CONSTANTS
from modeling.curve.two_clocks import RECOVERY
from modeling.lifting import general_part
from modeling.lifting.load_velocity import FALLBACK_SPEED, MINIMUM_SPEEDS
from modeling.testing import fade

WHAT = (
    "warmcurve tells for every athlete of a squad how much warm-up brings the best performance:"
    " who needs a short one, who a long one, what is lost with the standard warm-up, and how sure"
    " that is. It learns that from jumps, throws, sprints or bar speeds that are measured anyway,"
    " and from a few fade tests. From it come the lengths of a session, the plan before a game and"
    " the next test that would tell most."
)
METHOD = (
    "**Every effort has a volume**: what was done before it. Rest, the general part, cold and early"
    " hours make a volume count for more or less; how much is learned from the squad where its"
    " sessions differ enough, and else a default stands. Warmth leaves slowly, fatigue recovers"
    " within minutes: a wait beyond the usual is read off a curve's rise by one clock and off its"
    " fall by another, which is always a default with its range.",
    "**A curve for every athlete** rises with warming up, peaks, and falls with fatigue. Many forms"
    " of it are tried; each counts by how well it describes the athlete's efforts.",
    "**Days differ.** A good day lifts all its efforts by the same share, so efforts of different"
    " days can be compared; slow drifts of form over the season are followed too.",
    "**The squad helps.** Athletes with few sessions are pulled towards the squad; those with many"
    " stand on their own. How much alike the squad is comes from its own data.",
    "**Outliers count for little.** A slipped take-off does not move a curve.",
    "**The answer is a range.** Every number stands with the interval that holds it with a chance"
    " of 90\u00a0%, and with what is behind it. A call is firm only when its chance is high.",
    "**It is checked.** Sessions that were left out are predicted from the others and compared with"
    " what was seen; the page How sure shows how that went.",
    "**Advice weighs.** For a goal, every length is tried on many curves that the data allow, and"
    " the one with the best mean is advised; what else would do nearly as well is said.",
)
LEARNED_FROM = (
    ("Curves pooled over a squad", "Laird & Ware 1982, Biometrics 38:963-974; Laird 1978, JASA 73"),
    (
        "Forms of the curve weighted by the data",
        "Robbins 1956; Kiefer & Wolfowitz 1956 (empirical Bayes)",
    ),
    ("Outliers count for little", "Lange, Little & Taylor 1989, JASA 84"),
    (
        "Sessions predicted from the others",
        "Vehtari, Gelman & Gabry 2017, Stat Comput 27:1413-1432; Dawid 1984, JRSS A 147:278-292",
    ),
    ("What a test is worth", "Raiffa & Schlaifer 1961; Frazier & Powell 2010"),
    (
        "How well a measure repeats",
        "Hopkins 2000, Sports Med 30:1-15; Weir 2005; Shrout & Fleiss 1979, Psychol Bull 86",
    ),
    ("Two ways to measure compared", "Bland & Altman 1986, Lancet 1:307-310"),
    ("A trial of two lengths", "Fisher 1935, The Design of Experiments; Senn 2002"),
)
"""Methods and the publications that describe them, as the modules that use them name them."""


def constants_table() -> pd.DataFrame:
    """Return the constants of the warm-up account, each with its range and source."""
    return pd.DataFrame(
        [
            {
                "what": constant.words,
                "default": numbers.figures(constant.default),
                "range of 90 %": f"{numbers.figures(constant.low)} to"
                f" {numbers.figures(constant.high)}",
                "in": constant.unit,
                "source": constant.source,
            }
            for constant in (*CONSTANTS, RECOVERY)
        ]
    )


def rules_table() -> pd.DataFrame:
    """Return the rules and facts that advice and tests use, each with its source."""
    usual = {
        what: numbers.between(*minutes) for what, minutes in general_part.USUAL_MINUTES.items()
    }
    custom = "common practice, no source"
    rules = [
        (
            f"A fade test stops after {fade.IN_A_ROW} efforts in a row below"
            f" {numbers.percent(100 * fade.SHARE, 0)} of the best so far, throws below"
            f" {numbers.percent(100 * fade.SHARE_OF['throw'], 0)}, sprints more than"
            f" {numbers.percent(100 / fade.SHARE_OF['sprint'] - 100, 0)} slower, unless a director"
            " sets it for a measure",
            custom,
        ),
        (
            f"General part before lifting: {usual['lifting']} minutes,"
            f" {numbers.number(general_part.MOST_STIFF_MINUTES)} at most for somebody stiff",
            custom,
        ),
        (
            f"General part before a game, sprints, jumps or throws: {usual['game']} minutes",
            "Silva et al. 2018, Sports Med 48:2285-2299 (abstract): 5 minutes of jogging and 7 of"
            " dynamic work",
        ),
        (
            f"Static holds of {numbers.number(general_part.LONG_HOLD_S)} s and more cost"
            f" {numbers.percent(general_part.LONG_HOLD_LOSS_PCT)}, shorter ones"
            f" {numbers.percent(general_part.SHORT_HOLD_LOSS_PCT)} on average",
            "Behm et al. 2016, Appl Physiol Nutr Metab 41:1-11 (abstract)",
        ),
        (
            "Maximal efforts in the last"
            f" {numbers.number(waiting.CLOSE_MINUTES)} minutes may still tire."
            f" {waiting.KNOWN}",
            waiting.SOURCES,
        ),
        (
            f"After more than {numbers.number(waiting.LONG_MINUTES)} minutes of waiting"
            " something is done again",
            "Silva et al. 2018, Sports Med 48:2285-2299 (abstract)",
        ),
    ]
    speeds = {f"a {lift}": known for lift, known in MINIMUM_SPEEDS.items()}
    rules += [
        (
            f"At the one-repetition maximum the bar of {lift} moves at"
            f" {numbers.decimal(known.speed, 2)} ± {numbers.decimal(known.sd, 2)}\u00a0m/s",
            known.source,
        )
        for lift, known in (speeds | {"any other lift": FALLBACK_SPEED}).items()
    ]
    return pd.DataFrame(rules, columns=["rule", "source"])


def methods_table() -> pd.DataFrame:
    """Return the methods and the publications that describe them."""
    return pd.DataFrame(LEARNED_FROM, columns=["method", "source"])
