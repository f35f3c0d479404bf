"""Quantiles of resamples in which whole blocks count several times or not at all."""

from __future__ import annotations

import numpy as np

__all__ = ["resampled_quantiles"]

_PIECE = 12  # values a piece: longer ones make the counting slower, shorter ones the product
_TOGETHER = 100  # resamples at once, so that their counts stay in the processor's cache


def resampled_quantiles(
    ordered: np.ndarray, year: np.ndarray, draws: np.ndarray, chance: np.ndarray
) -> np.ndarray:
    """Weibull quantiles of resamples in which each year counts a number of times.

    Parameters
    ----------
    ordered : ndarray
        Values in ascending order.
    year : ndarray of int
        Block of each value.
    draws : ndarray of int
        Times each block counts; resamples along the first axis.
    chance : ndarray
        Probabilities of a smaller value.

    Returns
    -------
    ndarray
        Resamples by probabilities; the same as repeating the values and taking
        ``numpy.quantile(..., method="weibull")``.

    Notes
    -----
    The values are cut into short pieces. One matrix product counts the repeated values up to the
    end of every piece in every resample; a wanted rank is then found among the pieces, and
    within its piece by counting on.
    """
    count, blocks = len(ordered), draws.shape[1]
    pieces = -(-count // _PIECE)
    in_piece = np.bincount((np.arange(count) // _PIECE) * blocks + year, minlength=pieces * blocks)
    # Whole numbers far below 2^24 stay exact in single precision, and its product is faster.
    upto = np.cumsum(in_piece.reshape(pieces, blocks), axis=0).T.astype(np.float32)
    # The last piece is only filled up: no rank lies beyond its last value.
    year = np.pad(year, (0, pieces * _PIECE - count)).reshape(pieces, _PIECE)
    return np.concatenate(
        [
            _quantiles_of_draws(
                ordered, year, upto, draws[first : first + _TOGETHER].astype(np.float32), chance
            )
            for first in range(0, len(draws), _TOGETHER)
        ]
    )


def _quantiles_of_draws(
    ordered: np.ndarray, year: np.ndarray, upto: np.ndarray, draws: np.ndarray, chance: np.ndarray
) -> np.ndarray:
    below = _counts(draws, upto)
    total = below[:, -1:].astype(float)
    wanted = np.clip(chance * (total + 1), 1, total)
    lower = np.floor(wanted)
    ranks = np.concatenate([lower, np.minimum(lower + 1, total)], axis=1).astype(np.float32)
    at = np.stack([row.searchsorted(rank) for row, rank in zip(below, ranks)])
    left = ranks - np.where(at > 0, np.take_along_axis(below, np.maximum(at - 1, 0), axis=1), 0)
    first = np.arange(len(draws)) * draws.shape[1]
    times = draws.ravel().take(year[at] + first[:, None, None])
    passed = np.count_nonzero(np.cumsum(times, axis=2) < left[..., None], axis=2)
    low, high = np.split(ordered[at * _PIECE + passed], 2, axis=1)
    return low + (high - low) * (wanted - lower)


def _counts(draws: np.ndarray, upto: np.ndarray) -> np.ndarray:
    """The product of both, in parts too small to be spread over threads: on a busy machine those
    wait for each other."""
    below = np.empty((len(draws), upto.shape[1]), dtype=np.float32)
    columns = max(1, 250_000 // draws.size)
    for first in range(0, upto.shape[1], columns):
        below[:, first : first + columns] = draws @ upto[:, first : first + columns]
    return below
