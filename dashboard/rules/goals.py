"""What a warm-up is for."""

from __future__ import annotations

GOALS = {
    "best": "One best effort",
    "sustained": "Best average over the efforts to follow",
    "growth": "Muscle growth: the last sets count as the first",
}


def goal(efforts_to_follow: int) -> str:
    """Return what a warm-up is for: one best effort, or the average over those to follow."""
    if efforts_to_follow == 1:
        return "one best effort"
    return f"the best average over the {efforts_to_follow} efforts to follow"
