"""How likely a segment's link to a build is right: what was weighed for it, and the signs of how far to trust that.

A logistic curve over the signs, learned from how often such links were right (Platt, "Probabilistic outputs for support
vector machines", in Advances in Large Margin Classifiers, 1999); its weights are in linking.yaml.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diaryidx.builds.clues import Clue, learned
from diaryidx.builds.known import Matrix, Vector
from diaryidx.builds.stretches import chance_of_another
from diaryidx.records import Build

#: A clue speaks for a build from this gain on.
SPEAKS_FOR = 0.3
#: A sentence tells builds apart where it speaks so much for one of them.
TELLS = 1.0
#: A greater lead, in log odds, tells nothing more.
MOST_LEAD = 4.0


@dataclass(frozen=True, slots=True)
class Weighed:
    """A segment about a bike with its clues: how likely it is of each build, and last of none of them.

    ``whole`` is the chance that it speaks of one bike from its first to its last sentence, ``one`` what remains of a
    link's certainty where two bikes are shown as one, ``place`` its place among the segments. ``gains`` says how much
    each of its sentences speaks for each build (`sentence_gains`), ``turning`` how likely each turns to another.
    """

    place: int
    builds: Sequence[Build]
    found: Sequence[Clue]
    chances: Vector
    whole: float
    one: float
    gains: Matrix
    turning: Vector
    prior: Vector

    def certainty(self, column: int) -> float:
        """How likely the link to a build is right, as learned from how often such links were (Platt 1999)."""
        fitted = learned()["certainty"]
        score = sum(fitted[name] * value for name, value in self.signs(column).items())
        return round(min(float(1 / (1 + np.exp(-score))), 0.99) * self.one, 3)

    def signs(self, column: int) -> dict[str, float]:
        """What tells how far the chance of a build is to be trusted.

        ``lead``: how far it is before the next build, whatever speaks for a bike of no job book. All but the chance and
        the lead only take from it, so that of two builds that are equally likely neither is more certain than that.
        ``against``: how many clues speak clearly more for another build; ``by others alone``: no clue speaks for this
        one, it is only what others left; ``turned``: whether the film turns where the segment begins; ``another``: how
        likely it is of this build only up to some sentence or from one on; ``share``: of the sentences that tell builds
        apart, how many speak for this one.
        """
        chance = min(max(float(self.chances[column]), 1e-4), 1 - 1e-4)
        gains = np.array([clue.gains[:-1] for clue in self.found if clue.words]).reshape(-1, len(self.builds))
        best = gains.max(axis=1, initial=-np.inf)
        return {
            "chance": float(np.log(chance / (1 - chance))),
            "lead": float(np.clip(np.log(chance / max(self._next_best(column), 1e-4)), -MOST_LEAD, MOST_LEAD)),
            "whole": float(np.log(max(self.whole, 1e-4))),
            "against": float(((best > 1) & (gains[:, column] < best - 1)).sum()),
            "by others alone": float(not (gains[:, column] > SPEAKS_FOR).any()),
            "turned": float(np.log(self.turning[0])),
            "another": -float(np.logaddexp(0.0, chance_of_another(self.gains, self.turning, self.prior, column))),
            "share": float(np.log(self._share(column))),
        }

    def _next_best(self, column: int) -> float:
        """The chance of the likeliest other build."""
        return float(np.delete(self.chances[:-1], column).max(initial=0.0))

    def _share(self, column: int) -> float:
        """The share of telling sentences that speak for a build, drawn to a half where there are few."""
        own, best = self.gains[:, column], self.gains[:, :-1].max(axis=1)
        return float(((own >= TELLS).sum() + 1) / ((best >= TELLS).sum() + 2))
