"""What is known about waiting between the last effort and the start, worded once for all places."""

from __future__ import annotations

__all__ = [
    "AFTER_HARD_SETS",
    "CLOSE_MINUTES",
    "KNOWN",
    "LONG_MINUTES",
    "SOURCES",
    "WEAK",
]

CLOSE_MINUTES = 3.0
"""Maximal efforts closer than this to the start, or to coming on, may still tire."""
LONG_MINUTES = 15.0
"""After a longer wait athletes do some efforts again (Silva et al. 2018)."""

AFTER_HARD_SETS = (
    "Jumps after hard lifting sets: less than 3 minutes later \u22120.15 standard deviations"
    " (\u22120.31 to 0.01), 3 to 7 minutes later 0.18 (0.05 to 0.31; Dobbs et al. 2019, 36"
    " studies, 95\u00a0% intervals)."
)
WEAK = "After ordinary warm-up efforts the evidence is weak."
COOLING = (
    "Sitting costs: after 9 minutes jumps were 3.8\u00a0% lower (\u00b1\u00a00.6; Kapnia et al."
    " 2022), after 15 minutes 5.1\u00a0% (Koutsouridis et al. 2024)."
)
KNOWN = (
    "Waiting some minutes after the last hard effort may help a little, which is uncertain."
    f" {AFTER_HARD_SETS} {WEAK} {COOLING}"
)
SOURCES = (
    "Dobbs et al. 2019, J Strength Cond Res 33:2009-2018; alike Gouvea et al. 2013, J Sports Sci"
    " 31:459-467; Kapnia et al. 2022, Res Q Exerc Sport; Koutsouridis et al. 2024, J Phys Educ"
    " Sport 24:1099-1108 (abstracts)"
)
