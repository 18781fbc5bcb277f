"""The general part of a warm-up: its minutes, its regions in order, its movements by plane."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from modeling.errors import ModelError

__all__ = ["JOINTS", "PLANES", "USUAL_MINUTES", "GeneralPart", "Region", "general_part"]

USUAL_MINUTES = {"lifting": (5.0, 7.0), "game": (8.0, 15.0)}
"""Before lifting: common practice, no source. Before games, sprints, jumps and throws: 5 minutes of
jogging and 7 of dynamic work helped most in team sports (Silva et al. 2018, Sports Med
48:2285-2299, abstract), and reviews favour 10 to 15 in total (Sports 2023, 11:169, second hand)."""
TOLERATED_MINUTES = {"lifting": 10.0, "game": 15.0}
MOST_STIFF_MINUTES = 15.0
"""A few minutes above the usual give no warning (common practice, no source)."""

LONG_HOLD_S = 60.0
LONG_HOLD_LOSS_PCT, SHORT_HOLD_LOSS_PCT = 4.6, 1.1
"""Mean loss after static holds of 60 s and more per muscle, and after shorter ones: Behm et al.
2016, Appl Physiol Nutr Metab 41:1-11 (abstract). After dynamic work no clear effect is left."""

PLANES = ("forwards and back", "side to side", "turning")
WHOLE_BODY_SHARE = 0.3
"""Common practice, no source."""


@dataclass(frozen=True)
class Region:
    """A step of the general part.

    Attributes
    ----------
    name : str
    minutes : float
    movements : tuple of str
        Dynamic movements, one for each of `PLANES` in their order.
    """

    name: str
    minutes: float
    movements: tuple[str, ...]


@dataclass(frozen=True)
class GeneralPart:
    """The steps in order, cautions, and a remark if the length is unusual.

    The minutes of the steps add up to the length.
    """

    steps: tuple[Region, ...]
    cautions: tuple[str, ...]
    unusual: str


WHOLE_BODY = (
    "Whole body",
    (
        "walk, then easy running, then skipping for height",
        "side steps low and wide, both ways",
        "running with crossing steps, the trunk turning",
    ),
)
REGIONS = (
    (
        "Ankles",
        ("ankle",),
        (
            "knee over the toes and back, heel down",
            "weight from the inner to the outer edge of the foot",
            "small circles with the heel raised",
        ),
    ),
    (
        "Hips and knees",
        ("knee", "hip", "spine"),
        (
            "slow squats, then leg swings to the front and back",
            "lunges to the side, then leg swings across",
            "knee up, turned out and in while walking",
        ),
    ),
    (
        "Shoulder blades and neck",
        ("shoulder blade", "shoulder", "neck", "spine"),
        (
            "reach long and draw back, nod",
            "arms up sideways, shrug, ear to shoulder",
            "arms open wide and cross, look over each shoulder",
        ),
    ),
    (
        "Elbows",
        ("elbow", "wrist"),
        (
            "bend and straighten, hands open and closed",
            "hand from side to side",
            "palms up and down",
        ),
    ),
)
"""Ankles come before hips and knees, shoulder blades and neck before elbows. Order and movements
are common practice, no source."""

JOINTS = tuple(dict.fromkeys(joint for _, joints, _ in REGIONS for joint in joints))


def general_part(
    minutes: float,
    joints: Collection[str],
    stiff: bool = False,
    static_hold_s: float = 0.0,
    before_power: bool = True,
    before: str = "lifting",
) -> GeneralPart:
    """Build the general part for the joints that a session uses.

    Parameters
    ----------
    minutes : float
        Length, above 0.
    joints : collection of str
        Some of `JOINTS`; with none there is only the whole body.
    stiff : bool
        Whether the athlete is stiff or slow to start, which makes more minutes usual.
    static_hold_s : float
        Longest static hold of one muscle in seconds, 0 for none.
    before_power : bool
        Whether speed, power or strength work follows.
    before : {"lifting", "game"}
        What comes next; sprints, jumps and throws count as a game.

    Raises
    ------
    ModelError
        The minutes are not above 0, the hold is below 0, or there is no such joint.
    """
    if not minutes > 0:
        raise ModelError(f"A general part takes more than 0 minutes. Got {minutes:g}.")
    if not static_hold_s >= 0:
        raise ModelError(f"A static hold lasts 0 seconds or more. Got {static_hold_s:g}.")
    if unknown := sorted(set(joints) - set(JOINTS)):
        raise ModelError(f"There is no joint {unknown[0]}. The joints are {', '.join(JOINTS)}.")
    used = [
        (name, movements)
        for name, of_region, movements in REGIONS
        if _trains(of_region, set(joints))
    ]
    whole = minutes * WHOLE_BODY_SHARE if used else minutes
    each = (minutes - whole) / len(used) if used else 0.0
    return GeneralPart(
        (
            Region(WHOLE_BODY[0], whole, WHOLE_BODY[1]),
            *(Region(name, each, movements) for name, movements in used),
        ),
        tuple(_cautions(static_hold_s, before_power)),
        _unusual(minutes, stiff, before),
    )


def _trains(of_region: Collection[str], joints: set[str]) -> bool:
    """Whether a region is used; the spine, which two share, counts only if it works alone."""
    return bool((set(of_region) - {"spine"}) & joints) or (
        "spine" in of_region and joints == {"spine"}
    )


def _unusual(minutes: float, stiff: bool, before: str) -> str:
    least, most = USUAL_MINUTES[before]
    if least <= minutes <= (MOST_STIFF_MINUTES if stiff else TOLERATED_MINUTES[before]):
        return ""
    what = "lifting" if before == "lifting" else "a game, sprints, jumps or throws"
    return (
        f"{minutes:g} minutes: {least:g} to {most:g} are usual before {what}, and up to "
        f"{MOST_STIFF_MINUTES:g} for somebody stiff or slow to start."
    )


def _cautions(static_hold_s: float, before_power: bool) -> list[str]:
    found = []
    if static_hold_s >= LONG_HOLD_S and before_power:
        found.append(
            f"Static holds of {static_hold_s:g} s: holds of {LONG_HOLD_S:g} s and more per muscle "
            f"cost {LONG_HOLD_LOSS_PCT:g} % on average, shorter ones {SHORT_HOLD_LOSS_PCT:g} %. "
            "Hold shorter before speed, power or strength, or move for some minutes after them."
        )
    return found
