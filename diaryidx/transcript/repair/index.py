"""Finds, among thousands of terms, those that may sound like some stretch of a sentence, without comparing each.

Every term is cut into pairs of neighbouring sounds, each sound named by its class only (seeds, as in S. F. Altschul and
others, "Basic Local Alignment Search Tool", J. Mol. Biol. 215, 1990). A term is a candidate where enough of its pairs
turn up in the sentence at about the same distance from its start.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diaryidx.transcript.repair.pronouncing import Sounds, phonemes

#: Sounds that are easily confused share a class: same place of articulation, voiced or not.
CLASSES = (
    ("P", "B"), ("T", "D"), ("K", "G"), ("F", "V", "TH", "DH"), ("S", "Z"), ("SH", "ZH", "CH", "JH"), ("M", "N", "NG"),
    ("L",), ("R",), ("W",), ("Y",), ("HH",), ("IY", "IH", "EH", "EY", "AE"),
    ("AA", "AO", "AH", "AW", "AY", "ER", "OW", "OY", "UH", "UW"),
)  # fmt: skip
SHARE = 0.4  # of a term's pairs that must turn up
UNLIKE = 0.6  # sounds too many and too few together, for each sound of the term, that are still compared
DRIFT = 2  # sounds by which a stretch may have grown or shrunk at a seed


@dataclass(frozen=True)
class Index:
    """The pronunciations of all terms: ``sounds`` one row each (padded), and per pair of classes where it stands.

    The places of pair ``p`` are ``rows[starts[p]:starts[p + 1]]`` (which pronunciation) and ``offsets`` (where in it).
    ``shares`` says how often each class is in each pronunciation.
    """

    sounds: NDArray[np.uint8]
    lengths: NDArray[np.intp]
    needed: NDArray[np.intp]
    starts: NDArray[np.int32]
    rows: NDArray[np.int32]
    offsets: NDArray[np.int32]
    shares: NDArray[np.int16]


def _class_numbers() -> NDArray[np.intp]:
    place = {sound: number for number, group in enumerate(CLASSES) for sound in group}
    return np.array([place[sound] for sound in phonemes()], np.intp)


CLASS_OF = _class_numbers()


def build_index(pronunciations: Sequence[Sounds]) -> Index:
    """Index pronunciations of at least two sounds each."""
    number = {sound: place for place, sound in enumerate(phonemes())}
    lengths = np.array([len(one) for one in pronunciations], np.intp)
    sounds = np.zeros((len(pronunciations), int(lengths.max(initial=1))), np.uint8)
    for row, one in enumerate(pronunciations):
        sounds[row, : len(one)] = [number[sound] for sound in one]
    pairs = pair_numbers(sounds)
    rows, offsets = np.nonzero(np.arange(pairs.shape[1])[None, :] < (lengths - 1)[:, None])
    keys = pairs[rows, offsets]
    order = np.argsort(keys, kind="stable")
    starts = np.searchsorted(keys[order], np.arange(len(CLASSES) ** 2 + 1))
    needed = np.maximum(2, np.ceil(SHARE * (lengths - 1))).astype(np.intp)
    table = [one.astype(np.int32) for one in (starts, rows[order], offsets[order])]
    return Index(sounds, lengths, needed, table[0], table[1], table[2], _shares(sounds, lengths))


def pair_numbers(sounds: NDArray[np.uint8]) -> NDArray[np.intp]:
    """The pairs of neighbouring classes along the last axis, as one number each."""
    classes = CLASS_OF[sounds]
    numbers: NDArray[np.intp] = classes[..., :-1] * len(CLASSES) + classes[..., 1:]
    return numbers


def candidates(index: Index, sentence: NDArray[np.uint8]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Where terms may begin in a sentence.

    Arguments:
        sentence: phoneme numbers.
    Returns: rows of the index, and for each about where its first sound would be (may be off by ``DRIFT``, and before
        the sentence's start).
    """
    pairs = pair_numbers(sentence)
    first, counts = index.starts[pairs], index.starts[pairs + 1] - index.starts[pairs]
    total = int(counts.sum())
    if not total:
        return np.empty(0, np.intp), np.empty(0, np.intp)
    ends = np.cumsum(counts)
    hits = np.arange(total, dtype=np.int32) + np.repeat(first - (ends - counts), counts)
    widest = index.sounds.shape[1]
    diagonals = np.repeat(np.arange(len(pairs), dtype=np.int32), counts) - index.offsets[hits] + widest
    width = (len(sentence) + widest) // DRIFT + 2
    bins = np.bincount(index.rows[hits] * width + diagonals // DRIFT, minlength=len(index.lengths) * width)
    together = bins[:-1] + bins[1:]  # neighbouring bins: a drift may fall on either side of an edge
    found = np.flatnonzero(together >= np.repeat(index.needed, width)[:-1])
    return found // width, (found % width + 1) * DRIFT - widest


def _shares(sounds: NDArray[np.uint8], lengths: NDArray[np.intp]) -> NDArray[np.int16]:
    shares = np.zeros((len(sounds), len(CLASSES)), np.int16)
    rows, places = np.nonzero(np.arange(sounds.shape[1])[None, :] < lengths[:, None])
    np.add.at(shares, (rows, CLASS_OF[sounds[rows, places]]), 1)
    return shares


def worth_comparing(
    index: Index,
    sentence: NDArray[np.uint8],
    rows: NDArray[np.intp],
    begins: NDArray[np.intp],
    ends: NDArray[np.intp],
) -> NDArray[np.bool_]:
    """Whether terms hold about the same sounds as stretches, in whatever order (a bound on their distance).

    Arguments:
        rows: of the index, one a pair.
        begins: first sound of each pair's stretch.
        ends: behind its last.
    """
    running = np.zeros((len(sentence) + 1, len(CLASSES)), np.int16)
    running[np.arange(1, len(sentence) + 1), CLASS_OF[sentence]] = 1
    running = np.cumsum(running, axis=0, dtype=np.int16)
    apart = np.abs(running[ends] - running[begins] - index.shares[rows]).sum(axis=1)
    alike: NDArray[np.bool_] = apart <= UNLIKE * index.lengths[rows]
    return alike
