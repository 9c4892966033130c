"""Batches of samples: how large and how many, and statistics gathered batch by batch, in bounded memory."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Final, TypeAlias

import numpy as np
import numpy.typing as npt

from strutsweep._core import sum_up
from strutsweep._printed import ROUND_OFF
from strutsweep._within import whole_number
from strutsweep.errors import InputError

PERCENTILES: Final = (2.5, 16.0, 50.0, 84.0, 97.5)
"""Within the outer two lie 95 %, within the inner two about two in three."""

FEWEST_FOR_PERCENTILES: Final = math.ceil((2.0 / 3.0) / (PERCENTILES[0] / 100.0) - 1.0 / 3.0)
"""Of fewer samples the outer percentiles lie beyond the outermost sample, and are not given."""

BATCHES: Final = 16
"""Samples are drawn in this many batches at least, each scrambled by itself: how much their means and deviations differ
tells the sampling error, for points of Sobol too, whose error has no formula."""
BINS: Final = 60
BATCH_BYTES: Final = 256_000_000
"""A batch's readings take no more than this: memory does not grow with the number of samples."""
POOL_BYTES: Final = 512_000_000
"""Readings of all samples are kept up to this, and percentiles taken of all of them; beyond it they are the means of
those of the batches."""
LEAST_BATCH: Final = 1024
"""Samples of a batch of which percentiles are averaged: their bias, 1/24 of a sample's share, is then some 0.001
standard deviations at the outer percentiles."""
MOST_SAMPLES: Final = 1 << 28

Readings: TypeAlias = Sequence[npt.NDArray[np.float64]]
"""Of each reading an array of samples by poses, as the sweep laid it out: turning axes takes as long as the sweep."""


def poses_at_once(readings: int) -> int:
    """Poses that are worked on at once: of more, sixteen batches of the least size would not fit in the pool."""
    return max(1, POOL_BYTES // (8 * LEAST_BATCH * BATCHES * readings))


def batches_for(samples: int, columns: int) -> tuple[int, int]:
    """Samples in a batch, a power of two that memory can hold, and how many batches."""
    wanted = whole_number("samples", samples, 2)
    if wanted > MOST_SAMPLES:
        raise InputError(
            f"samples = {wanted:,} is more than {MOST_SAMPLES:,}", name="samples", value=wanted, limit=MOST_SAMPLES
        )
    count = max(2, 2 ** math.ceil(math.log2(wanted / BATCHES)))
    # Few samples are pooled, and need no large batches.
    while count > LEAST_BATCH and 8 * count * columns > BATCH_BYTES:
        count //= 2
    return count, max(BATCHES, math.ceil(wanted / count))


def pooled(count: int, batches: int, readings: int, poses: int) -> bool:
    """Whether the readings of all samples are kept, for percentiles of all."""
    return 8 * count * batches * readings * poses <= POOL_BYTES


class BatchStatistics:
    """Statistics of readings in several poses, gathered batch by batch."""

    def __init__(self, readings: int, poses: int, count: int, batches: int, through: Sequence[bool] | None) -> None:
        self._shape = (readings, poses)
        self._through = through
        self._ends: tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]] | None = None
        self._parts: dict[str, list[npt.NDArray[np.float64]]] = {}
        self._histogram: npt.NDArray[np.int64] = np.zeros((readings, poses, BINS), dtype=np.int64)
        self._below = np.zeros((readings, poses))
        self._count, self._batches = count, batches
        self._pool: npt.NDArray[np.float64] | None = None
        if pooled(count, batches, readings, poses):
            # Samples of one pose lie together: percentiles take them column by column.
            self._pool = np.empty((readings, poses, count * batches))

    def add(self, values: Readings, threads: int) -> None:
        """One batch."""
        if self._ends is None:
            self._ends = _ends(values)
        low, high = self._ends
        if self._pool is not None:
            first = self._count * len(self._parts.get("mean", []))
            for reading, one in enumerate(values):
                self._pool[reading, :, first : first + self._count] = one.T
        percents = PERCENTILES if self._pool is None else ()
        summed = [
            sum_up(one, percents, low[reading], high[reading], BINS, threads) for reading, one in enumerate(values)
        ]
        self._histogram += np.stack([counts for *_, counts in summed]).astype(np.int64)
        if self._through is not None:
            for place in np.flatnonzero(self._through).tolist():
                self._below[place] += (values[place] < 0.0).sum(axis=0)
        batch: dict[str, npt.NDArray[np.float64]] = {
            "count": np.stack([count for count, *_ in summed]).astype(np.float64),
            "mean": np.stack([mean for _, mean, *_ in summed]),
            "deviation": np.stack([deviation for _, _, deviation, *_ in summed]),
            "percentiles": np.stack([percentiles for *_, percentiles, _ in summed]),
        }
        for name, values_of_batch in batch.items():
            self._parts.setdefault(name, []).append(values_of_batch)

    def result(self, threads: int) -> dict[str, npt.NDArray[Any]]:
        """Everything over all batches, readings by poses; sampling errors from how much batches differ."""
        batches = {name: np.stack(parts) for name, parts in self._parts.items()}
        root = math.sqrt(len(batches["mean"]))
        assert self._ends is not None
        count = batches["count"]
        total = count.sum(axis=0)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = np.nansum(count * np.nan_to_num(batches["mean"]), axis=0) / total
            # About the mean of all: that of one batch of Sobol's points is nearly the true one, and costs no degree of
            # freedom as that of independent ones does.
            within = (count - 1.0) * batches["deviation"] ** 2 + count * (batches["mean"] - mean) ** 2
            deviation = np.sqrt(np.nansum(within, axis=0) / (total - 1.0))
            below = self._below / total
        if self._pool is None:
            percentiles = batches["percentiles"].mean(axis=0)
            fewest = count.min(axis=0)
        else:
            none = np.zeros(0)
            percentiles = np.stack([sum_up(one.T, PERCENTILES, none, none, 0, threads)[3] for one in self._pool])
            fewest = total
        percentiles[fewest < FEWEST_FOR_PERCENTILES] = np.nan
        found = {
            "mean": mean,
            "mean_error": batches["mean"].std(axis=0, ddof=1) / root,
            "deviation": deviation,
            "deviation_error": batches["deviation"].std(axis=0, ddof=1) / root,
        }
        across = (below > 0.0) & (below < 1.0)
        for values in found.values():
            values[across] = np.nan
        return found | {
            "percentiles": percentiles,
            "below": below,
            "across": across,
            "reached": total / (self._count * self._batches),
            "histogram": self._histogram,
            "low": self._ends[0],
            "high": self._ends[1],
        }


class Chances:
    """Chances of meeting limits, gathered batch by batch and block of poses by block."""

    def __init__(
        self, bounds: Mapping[str, tuple[float, float]], names: Sequence[str], count: int, batches: int, method: str
    ) -> None:
        self._bounds = [(names.index(name), ends) for name, ends in bounds.items()]
        self._readings = len(names)
        self._samples = count * batches
        self._method = method
        self._each: list[list[npt.NDArray[np.float64]]] = [[] for _ in range(batches)]
        self._met = np.ones((len(bounds), batches, count), dtype=bool)

    def add(self, batch: int, values: Readings) -> None:
        """Some poses of one batch."""
        chance = np.full((self._readings, values[0].shape[1]), np.nan)
        for place, (reading, (least, most)) in enumerate(self._bounds):
            met = np.asarray((values[reading] >= least) & (values[reading] <= most))
            chance[reading] = met.mean(axis=0)
            self._met[place, batch] &= met.all(axis=1)
        self._each[batch].append(chance)

    def _summed(self, batches: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        """Chance and its standard error, of chances by batches along the first axis."""
        chance = batches.mean(axis=0)
        if self._method == "random":
            error = np.sqrt(chance * (1.0 - chance) / self._samples)
        else:
            error = batches.std(axis=0, ddof=1) / math.sqrt(len(batches))
        return chance, np.maximum(error, 1.0 / self._samples)

    def result(self) -> dict[str, Any]:
        """Chances, and their standard errors."""
        chance, error = self._summed(np.stack([np.concatenate(parts, axis=1) for parts in self._each]))
        everywhere, everywhere_error = np.full((2, self._readings), np.nan)
        for place, (reading, _) in enumerate(self._bounds):
            everywhere[reading], everywhere_error[reading] = self._summed(self._met[place].mean(axis=1))
        of_all, of_all_error = self._summed(self._met.all(axis=0).mean(axis=1))
        return {
            "chance": chance,
            "chance_error": error,
            "chance_everywhere": everywhere,
            "chance_everywhere_error": everywhere_error,
            "chance_of_all": float(of_all),
            "chance_of_all_error": float(of_all_error),
        }


def _ends(values: Readings) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Ends of the histograms, from a first batch. Later ones reach a little farther; the bins at the ends count
    that."""
    finite = [np.isfinite(one) for one in values]
    low = np.stack(
        [one.min(axis=0, where=is_number, initial=np.inf) for one, is_number in zip(values, finite, strict=True)]
    )
    high = np.stack(
        [one.max(axis=0, where=is_number, initial=-np.inf) for one, is_number in zip(values, finite, strict=True)]
    )
    none = low > high
    low, high = np.where(none, 0.0, low), np.where(none, 0.0, high)
    reach = np.maximum(0.08 * (high - low), ROUND_OFF)
    return low - reach, high + reach
