"""What clubs may tell each other: summaries of fits, and what may be expected of another squad."""
