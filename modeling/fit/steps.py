"""A fit in progress: the steps of a round of the engine.

Athletes are in partitions, each at its own place (`compute`). A step that needs all athletes asks
every partition and adds up the answers here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from modeling.compute.places import Here, Parts, Place, dealt, in_order
from modeling.compute.sums import together
from modeling.curve.shapes import CurveFamily, DataRange
from modeling.efforts.data_range import NOTHING, VolumesTried, data_range
from modeling.efforts.observations import AthleteRows
from modeling.efforts.session_model import NoiseSizes
from modeling.fit.learned import Learned
from modeling.fit.learning import (
    RoundSums,
    SquadSums,
    first_guess,
    learn_effects,
    learn_level,
    learn_noise,
    learn_squad,
    learn_tails,
)
from modeling.fit.noise import TailSums
from modeling.fit.partition import Partition, WorkedOutAgain
from modeling.fit.shared import SharedEffects
from modeling.fit.squad_fit import EngineSettings, SquadFit

__all__ = ["JUDGED_AT", "Rounds"]

FloatArray = NDArray[np.float64]

SETTLED_AFTER = 6
"""Rounds after which a shared constant may be found to have no effect."""

JUDGED_AT = 7
"""Round on athletes' own grids in which the fit judges which constants the data tell. A fit takes
at least as many rounds, and more if the judgement moves a constant."""

SHARED_WEIGHT = 0.05
"""A shared effect that moves by its own uncertainty counts like a size that moves by this share."""


@dataclass
class Rounds:
    """A fit in progress; every method is a step of a round."""

    rows: list[AthleteRows]
    settings: EngineSettings
    data: DataRange
    learned: Learned
    forms: FloatArray
    parts: Parts
    done: int = 0
    fine_rounds: int = 0
    fine: bool = False
    sums: RoundSums = field(init=False)
    weighed_with: NoiseSizes = field(init=False)

    @classmethod
    def begin(
        cls,
        rows: list[AthleteRows],
        settings: EngineSettings,
        shared: SharedEffects,
        places: Sequence[Place],
    ) -> Rounds:
        """Start from the data's range and the family's hyperprior, on the wide grid."""
        data = data_range(rows, settings.farthest_volume, settings.least_noise)
        learned = first_guess(rows, settings, data, settings.family.grid(data), shared)
        parts = _parted(rows, settings, data, places)
        return cls(rows, settings, data, learned, learned.form_weight, parts)

    def again(self, family: CurveFamily) -> Rounds:
        """Start another family with all that this one has taught, except about the curves."""
        settings = replace(self.settings, family=family)
        guess = first_guess(
            self.rows, settings, self.data, family.grid(self.data), self.learned.shared
        )
        learned = replace(guess, noise=self.learned.noise, level=self.learned.level)
        self.parts.change("try_family", settings)
        return replace(
            self,
            settings=settings,
            learned=learned,
            forms=learned.form_weight,
            fine=False,
            fine_rounds=0,
        )

    def better_of(self, other: Rounds, clearly: float) -> Rounds:
        """Choose this, or the one that `again` began if its log evidence leads by `clearly`."""
        if self._log_evidence_over(other) < -clearly:
            return other
        self.parts.change("keep_first")
        return self

    def _log_evidence_over(self, other: Rounds) -> float:
        """Say how much likelier efforts are under this family, with the same noise and weights.

        This is the log of the Bayes factor. Weights follow from residuals and are part of the
        likelihood: if each family had its own, the one with more rounds would win.
        """
        learned = replace(other.learned, noise=self.weighed_with)
        theirs = together(other.parts.ask("log_evidence", learned, other.forms))
        return float(self.sums.log_evidence - theirs)

    @classmethod
    def resume(cls, fit: SquadFit, rows: list[AthleteRows]) -> Rounds:
        """Start from what a fit learned, for other rows in this process, on grids of their own."""
        learned = fit.learned
        rows = _under(rows, learned.shared)
        parts = _parted(rows, fit.settings, fit.data, [Here()])
        state = cls(rows, fit.settings, fit.data, learned, learned.form_weight, parts)
        state.expect()
        state._lay_fine_grids()
        return state

    def among(self, rows: list[AthleteRows], places: Sequence[Place]) -> Rounds:
        """Start from what some athletes have taught, with everybody on the wide grid."""
        rows = _under(rows, self.learned.shared)
        data = data_range(rows, self.settings.farthest_volume, self.settings.least_noise)
        state = replace(
            self,
            rows=rows,
            data=data,
            forms=self.learned.form_weight,
            parts=_parted(rows, self.settings, data, places),
            fine=False,
        )
        state.expect()
        return state

    def round(self) -> float:
        """Do one round; return the largest relative move of any learned size."""
        self.done += 1
        self.fine_rounds += self.fine
        before = self.learned
        self.expect()
        self.learn_squad()
        self._learn_shared()
        self.learned = learn_level(self.learned, self.sums.level, self.settings)
        self.learned = learn_noise(self.learned, self.sums.sizes, self.settings, self.data)
        if self.settings.heavy_tails:
            self.learned = learn_tails(self.learned, self._tails)
            self.reweigh()
        scale = np.maximum(np.abs(before.sizes), 0.2 * self.learned.noise.effort)
        moved = float(np.max(np.abs(self.learned.sizes - before.sizes) / scale))
        return max(moved, SHARED_WEIGHT * self.learned.shared.moved_sds(before.shared))

    def expect(self) -> None:
        """Weigh every athlete's cells under what has been learned."""
        self.weighed_with = self.learned.noise
        self.sums = together(self.parts.change("expect", self.learned, self.forms))

    def learn_squad(self) -> None:
        """Run EM for the squad's distribution and the forms, if they are learned."""
        if self.settings.pooled:
            self.learned, self.forms = learn_squad(
                self.learned, self.forms, self._squad, self.settings, self.data
            )

    def _squad(self, forms: FloatArray, learned: Learned | None) -> SquadSums:
        return together(self.parts.change("learn_squad", forms, learned))

    def _tails(self, scale: FloatArray, compared: bool) -> TailSums:
        return together(self.parts.ask("tails", scale, compared))

    def _learn_shared(self) -> None:
        """Take a Newton step for effects on the level and for the account, and update volumes."""
        self.learned = learn_effects(
            self.learned,
            self.sums.shared,
            self.settings,
            self.data,
            settled=self.fine and self.done > SETTLED_AFTER,
            judged=self.fine_rounds == JUDGED_AT,
        )
        shared = self.learned.shared
        if any(shared.constants):
            self.parts.change("under", shared, not self.fine)
            # Peaks move with the volumes: an athlete stuck at the end of an old grid would hold
            # back the account too.
            if self.fine:
                self.lay_fine_grids()

    def reweigh(self) -> None:
        """Give each effort and each day the weight its residual deserves."""
        self.parts.change("reweigh", self.learned.noise)

    def lay_fine_grids(self) -> None:
        """Lay each athlete's grid over what their efforts and the squad make plausible."""
        if any(self.learned.shared.constants):
            # The account has moved the volumes since.
            farthest = self.settings.farthest_volume
            highest = max(*self.parts.ask("highest_volume"), farthest)
            tried = self.parts.ask("volumes_tried", NOTHING * highest)
            self.data = VolumesTried.together(tried).within(self.data, farthest)
        self._lay_fine_grids()

    def _lay_fine_grids(self) -> None:
        self.fine = True
        self.parts.change("lay_fine", self.learned, self.data)

    def session_moments(self) -> list[tuple[FloatArray, FloatArray]]:
        """Give each athlete's sessions' effects and their variances, once there is a result."""
        return in_order(self.parts.ask("session_moments"))

    def result(self) -> SquadFit:
        """Give the fit; athletes at other places stay there."""
        weighings = in_order(self.parts.change("finish", self.learned, self.forms))
        fit = SquadFit(
            settings=self.settings,
            data=self.data,
            learned=self.learned,
            rows=tuple(_under(self.rows, self.learned.shared)),
            posteriors=(),
            session_effects=tuple(effects for effects, _ in self.session_moments()),
            rounds=self.fine_rounds,
        )
        if self.parts.here:
            return replace(fit, posteriors=tuple(in_order(self.parts.ask("whole"))))
        return replace(fit, posteriors=WorkedOutAgain(fit, weighings), held=self.parts)


def _parted(
    rows: list[AthleteRows], settings: EngineSettings, data: DataRange, places: Sequence[Place]
) -> Parts:
    """Deal athletes out to places."""
    made_from = [(some, settings, data) for some in dealt(rows, len(places))]
    return Parts(places, Partition, made_from)


def _under(rows: list[AthleteRows], shared: SharedEffects) -> list[AthleteRows]:
    """Work out the rows' volumes under the account, if any of its constants makes a difference."""
    return [r.under(shared.account) for r in rows] if any(shared.constants) else rows
