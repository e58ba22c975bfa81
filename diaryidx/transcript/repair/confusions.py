"""How easily one sound is heard as another: what it costs to confuse, lose and add a sound.

A cost is the negative natural logarithm of how often it happens within misheard stretches, less that of hearing the
sound right. The costs are learnt from what two engines made of sentences of invented shops, spoken by six voices, clean
and in noise (``confusions.yaml``, written by ``tests/bench/fit_confusions.py``); sounds seldom met lean on their
articulatory features (PanPhon's weighted feature distance, source in ``phonemes.yaml``; a diphthong is the mean of its
two segments).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from diaryidx.transcript.repair.pronouncing import data, phonemes

VOWELS = frozenset(("AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW"))


@dataclass(frozen=True)
class Confusions:
    """Costs by phoneme number (place in ``phonemes()``): ``swap[meant, heard]``, ``lost[meant]``, ``added[heard]``."""

    swap: NDArray[np.float32]
    lost: NDArray[np.float32]
    added: NDArray[np.float32]


@cache
def confusions() -> Confusions:
    """The costs, read once."""
    table = data("confusions.yaml")
    swap = np.array([table["swap"][name] for name in phonemes()], np.float32)
    return Confusions(swap, np.array(table["lost"], np.float32), np.array(table["added"], np.float32))


def feature_distances() -> NDArray[np.float64]:
    """How far two sounds are apart, 0 to 1: the share of their weighted features that differ."""
    features = _features()
    weights = np.array(data("phonemes.yaml")["weights"], np.float64)
    apart = np.abs(features[:, None, :] - features[None, :, :]) / 2
    distances: NDArray[np.float64] = (apart * weights).sum(axis=2) / weights.sum()
    return distances


def _features() -> NDArray[np.float64]:
    """One row a phoneme: +1, -1, 0 for each feature, the mean over the segments."""
    table = data("phonemes.yaml")
    value = {"+": 1.0, "-": -1.0, "0": 0.0}
    rows = [
        np.mean([[value[sign] for sign in table["segments"][segment]] for segment in segments], axis=0)
        for segments in table["phonemes"].values()
    ]
    return np.array(rows)


def hearing_costs(
    meant: NDArray[np.uint8],
    meant_lengths: NDArray[np.intp],
    heard: NDArray[np.uint8],
    heard_lengths: NDArray[np.intp],
    most: NDArray[np.float64],
) -> NDArray[np.float32]:
    """The cheapest way in which each meant string of sounds was heard as its heard one (weighted edit distance).

    Arguments:
        meant: one row a pair, phoneme numbers, padded.
        meant_lengths: how many of each row count; at least 1.
        heard: as ``meant``.
        heard_lengths: as ``meant_lengths``.
        most: the cost of each pair from which on it is of no interest.
    Returns: one cost a pair, infinite above ``most``. All pairs are worked out together, one meant sound at a time
        (Wagner and Fischer, "The String-to-String Correction Problem", JACM 21(1), 1974; the run along a row as a
        running minimum).
    """
    costs = confusions()
    added = np.zeros((len(meant), heard.shape[1] + 1), np.float32)
    np.cumsum(costs.added[heard], axis=1, out=added[:, 1:])
    row = added.copy()
    found = np.full(len(meant), np.inf, np.float32)
    alive = np.arange(len(meant))
    for place in range(int(meant_lengths.max(initial=0))):
        sound = meant[alive, place]
        below = row + costs.lost[sound][:, None]
        np.minimum(below[:, 1:], row[:, :-1] + costs.swap[sound[:, None], heard[alive]], out=below[:, 1:])
        row = np.minimum.accumulate(below - added[alive], axis=1) + added[alive]
        ends = np.flatnonzero(meant_lengths[alive] == place + 1)
        found[alive[ends]] = row[ends, heard_lengths[alive[ends]]]
        going_on = (row.min(axis=1) <= most[alive]) & (meant_lengths[alive] > place + 1)
        row, alive = row[going_on], alive[going_on]
        if not len(alive):
            break
    found[found > most] = np.inf
    return found
