"""What a new store lacks before there are curves."""

from __future__ import annotations

from dataclasses import dataclass

from dashboard.fits.earlier_data import FEWEST_EFFORTS, FEWEST_VOLUMES
from db.file.store import Store
from db.people.first_run import first_run


@dataclass(frozen=True)
class Lack:
    """Something that is missing, with the script of the page that adds it and the link's label."""

    sentence: str
    script: str
    label: str


def missing(store: Store) -> list[Lack]:
    """Return what is missing for the first curve, in the best order to do it."""
    run = first_run(store)
    lacking = []
    if not run.athletes:
        lacking.append(Lack("There are no athletes yet.", "people", "Paste their names"))
    if not run.efforts:
        lacking += [
            Lack(
                f"There are no efforts yet: {FEWEST_EFFORTS} of them at {FEWEST_VOLUMES} lengths"
                " make a first curve, and three athletes with a fade test each a good start.",
                "import_efforts",
                "Import a file",
            ),
            Lack("Without a file a fade test brings them.", "run_test", "Run a test now"),
        ]
    return lacking
