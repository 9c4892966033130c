"""Spread: how sure readings are when the dimensions that they are computed from are not.

Two ways side by side: samples of all dimensions at once through the engine, and the linear estimate from exact slopes.
"""

from __future__ import annotations

import math
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, cast

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._batches import (
    FEWEST_FOR_PERCENTILES,
    PERCENTILES,
    BatchStatistics,
    Chances,
    batches_for,
    pooled,
    poses_at_once,
)
from strutsweep._core import Corner, sweep_grid
from strutsweep._inputs import XYZ, TravelAt, Values, thread_count, unknown
from strutsweep._poses import FIELDS, PoseGrid, check_corner, checked_readings, dataset_attributes, readings_and_slopes
from strutsweep._printed import ROUND_OFF, Table, figures, shown
from strutsweep._within import mapping_of, one_number, whole_number
from strutsweep.dimensions import WHEEL_KEYWORDS
from strutsweep.errors import InputError
from strutsweep.scattering import Scatter, Tolerances, scatter
from strutsweep.sensitivity import contributions, one_pose
from strutsweep.words import HARD_POINT_FIELDS, READINGS, SETTINGS

__all__ = ["Spread", "spread"]

USUAL_READINGS: Final = (
    "camber",
    "toe",
    "caster",
    "kingpin_inclination",
    "scrub_radius",
    "camber_gain",
    "bump_steer",
    "roll_centre_height",
)
DOUBT: Final = 5.0
"""Standard errors, from sixteen batches, beyond which samples and linear estimate differ by more than chance: with
fifteen degrees of freedom chance does that once in some 6000 columns."""
NOTABLE: Final = 0.02
"""A difference below this share of the standard deviation is no news to anyone, however sure it is."""
FLAGS: Final = ("agree", "spread_differs", "mean_shifts", "both_differ", "no_moments")
NO_MOMENTS: Final = FLAGS.index("no_moments")

THROUGH_INFINITY: Final = ("swing_arm_length", "side_view_swing_arm")
"""Readings that are one over a rate which may be nothing: a scatter that reaches across has no mean."""


@dataclass(frozen=True, repr=False)
class Spread:
    """How readings scatter.

    Attributes
    ----------
    data : xarray.Dataset
        Along ``reading`` and the poses: ``nominal``; ``sample_mean`` and ``standard_deviation`` of the samples with
        their sampling errors ``mean_error`` and ``standard_deviation_error``; ``percentiles`` along ``percentile``;
        ``linear_mean`` and ``linear_standard_deviation``; along ``source``, by the linear estimate, ``effect``, the
        standard deviation by this source alone, ``share`` of the variance and ``left_if_known``, the standard deviation
        that is left once the source is known; ``reached``, the share of samples whose pose can be reached;
        ``agreement``, a flag; and ``histogram``, counts along ``bin`` between ``low`` and ``high``. Where limits were
        given: ``chance`` of meeting each, and ``chance_everywhere``, of meeting it in every pose, with their sampling
        errors ``chance_error`` and ``chance_everywhere_error``. Attributes record ``seed``, ``method``, ``samples``,
        ``batches`` and ``percentiles_of``. Every error and deviation is one standard deviation.
    words : tuple of str
        What a reader should know: where samples and linear estimate disagree, what is out of reach.
    chance_of_all, chance_of_all_error : float or None
        Chance of meeting all limits in all poses at once, and its sampling error.
    """

    data: xr.Dataset
    words: tuple[str, ...]
    chance_of_all: float | None
    chance_of_all_error: float | None

    def table(self, *, at: Mapping[str, Any] | None = None) -> Table:
        """One pose in print: every reading with its spread, sampled and linear.

        Parameters
        ----------
        at : mapping, optional
            The pose, where there are several: ``at={"travel": 40}``. The nearest one is taken.

        Returns
        -------
        Table

        Raises
        ------
        InputError
            Several poses are left.

        Examples
        --------
        >>> import strutsweep as ss
        >>> found = ss.spread(ss.demo("gravel_hatch").left, {"points": 1.0}, readings="caster", samples=4096, seed=1)
        >>> found.table().heads[:3]
        ('reading', 'unit', 'nominal')
        """
        data = one_pose(self.data, at)
        low, high = PERCENTILES[0], PERCENTILES[-1]
        rows = []
        for name in data.reading.values:
            one = data.sel(reading=name)
            unit, factor = shown(READINGS[str(name)]["units"])
            row = [
                str(name).replace("_", " "),
                unit,
                _signed(factor * float(one.nominal)),
                figures(factor * float(one.standard_deviation)),
                figures(factor * float(one.linear_standard_deviation)),
                _signed(factor * float(one.percentiles.sel(percentile=low))),
                _signed(factor * float(one.percentiles.sel(percentile=high))),
            ]
            if "chance" in data:
                row.append(in_per_cent(float(one.chance), float(one.chance_error)))
            rows.append(row)
        heads = ["reading", "unit", "nominal", "std dev", "linear", f"{low:g} %", f"{high:g} %"]
        if "chance" in data:
            heads.append("meets limit %")
        attrs = self.data.attrs
        notes = [
            f"{attrs['samples']:,} samples ({attrs['method']}, seed {attrs['seed']}). std dev: one standard deviation."
        ]
        if self.chance_of_all is not None and self.chance_of_all_error is not None:
            notes.append(f"Limits: {'; '.join(self._limits_in_words())}.")
            every = in_per_cent(self.chance_of_all, self.chance_of_all_error)
            poses = [str(dim) for dim in self.data.nominal.dims if dim != "reading"]
            where = f", over all of {' and '.join(poses)}" if poses else ""
            notes.append(
                f"All limits at once{where}: {every} %. Behind \N{PLUS-MINUS SIGN}: one standard error of sampling."
            )
        notes += self.words
        return Table.of(f"{attrs['car']}, {attrs['side']} corner: how sure", heads, rows, notes)

    def _limits_in_words(self) -> list[str]:
        """Each limit in the unit that the table shows."""
        told = []
        for name in map(str, self.data.reading.values):
            ends = [float(self.data[side].sel(reading=name)) for side in ("limit_low", "limit_high")]
            if not math.isnan(ends[0]):
                units, factor = shown(READINGS[name]["units"])
                below, above = (figures(factor * end, 6) for end in ends)
                words = f"{below} to {above}"
                if math.isinf(ends[0]):
                    words = f"at most {above}"
                elif math.isinf(ends[1]):
                    words = f"at least {below}"
                told.append(f"{name.replace('_', ' ')} {words}{'' if units == '-' else f' {units}'}")
        return told

    def __str__(self) -> str:
        poses = [str(dim) for dim in self.data.nominal.dims if dim != "reading"]
        middle = {dim: 0.0 for dim in poses if np.issubdtype(self.data[dim].dtype, np.number)}
        return str(self.table(at=middle)) if len(middle) == len(poses) else repr(self)

    def __repr__(self) -> str:
        attrs = self.data.attrs
        return (
            f"Spread({attrs['car']!r}, {attrs['side']}, {self.data.sizes['reading']} readings,"
            f" {attrs['samples']} samples, seed {attrs['seed']})"
        )

    def _repr_html_(self) -> str:
        poses = [str(dim) for dim in self.data.nominal.dims if dim != "reading"]
        return self.data._repr_html_() if poses else self.table()._repr_html_()


def in_per_cent(chance: float, error: float) -> str:
    """A chance with its standard error, in per cent, to the digits that the error leaves it; nothing for none."""
    if math.isnan(chance):
        return ""
    digits = min(6, max(0, -math.floor(math.log10(max(100.0 * error, 1e-6)))))
    return f"{100.0 * chance:.{digits}f} \N{PLUS-MINUS SIGN} {100.0 * error:.{digits}f}"


def _signed(value: float) -> str:
    if not math.isfinite(value):
        return "-"
    return f"{value:+.5g}" if abs(value) > ROUND_OFF else "0"


def spread(
    corner: Corner,
    tolerances: Tolerances,
    *,
    readings: str | Sequence[str] = USUAL_READINGS,
    limits: Mapping[str, tuple[float | None, float | None]] | None = None,
    correlation: Mapping[tuple[str, str], float] | xr.DataArray | None = None,
    change_from: Mapping[str, float] | None = None,
    samples: int = 65_536,
    method: Literal["sobol", "random"] = "sobol",
    seed: int | None = None,
    travel_at: TravelAt = "ground",
    threads: int | None = None,
    **inputs: Values,
) -> Spread:
    """How readings scatter when points, settings and parts do.

    Each sample is a car of its own: all that varies is drawn at once, a corner is built of it, and its readings are
    computed in every pose. Beside them stands the linear estimate from exact slopes, and a word where the two disagree
    by more than the sampling error.

    Parameters
    ----------
    corner : Corner
        ``car.left`` or ``car.right``: the nominal one.
    tolerances : mapping or iterable of Source
        What varies and how, as `strutsweep.scatter` takes it: ``{"points": 1.0}`` is plus or minus 1 mm on every
        coordinate, ``{"strut.top": ss.normal(2.0), "subframe": ss.normal(1.0), "mount_in": 0.5}`` more of a story.
    readings : str or sequence of str
        Which readings.
    limits : mapping of str to (low, high), optional
        Limits to be met, in the reading's unit; None for no limit that way. Readings among them are computed too.
    correlation : mapping or DataArray, optional
        How sources go together, as `strutsweep.scatter` takes it.
    change_from : mapping of str to float, optional
        Look at the change of each reading from the pose with these inputs instead of the reading itself:
        ``change_from={"mount_in": 0.0}`` with ``mount_in=10.0`` is how sure the effect of a move of 10 mm is.
    samples : int
        How many, at least: rounded up to sixteen batches of a power of two, 32 in all or more.
    method : {"sobol", "random"}
        Scrambled points of Sobol, which fill the space evenly and need fewer, or independent random ones.
    seed : int, optional
        Of the random numbers; drawn unless given, and recorded either way.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, and so what is held.
    threads : int, optional
        All of the machine's unless given.
    **inputs : number or array
        Settings and motions, as `strutsweep.sweep` takes them: the poses.

    Returns
    -------
    Spread

    Raises
    ------
    InputError
        An unknown name, a tolerance that is not above zero, a matrix that is no correlation, limits upside down, a
        number of samples that is none.
    ReachError
        A pose of the nominal corner is out of reach.

    Notes
    -----
    Static camber and toe stay as they were measured on the car unless ``"wheel.camber"`` and ``"wheel.toe"`` are given
    tolerances of their own: a point measured 1 mm wrong makes no error in a camber that a gauge has shown. The same
    holds for design height: each sample is measured from its own.

    Samples come in batches of a size that memory can hold. Percentiles are those of all samples together; of more
    numbers than half a gigabyte holds they are means of those of the batches, each of at least 1024 samples, whose bias
    is below 0.001 standard deviations (``percentiles_of`` says which). A sample whose pose is out of reach, or whose
    points make no corner, is left out of the statistics and counted in ``reached``; it meets no limit.

    The sampling error of a chance is that of the binomial distribution for independent samples, and for points of Sobol
    comes from how much the scrambled batches differ; never less than one sample's share, for which there is no telling.

    A reading that passes through infinity within the scatter (a swing arm, where camber hardly changes) has no mean and
    no standard deviation: both are NaN, and a word says so.

    Quasi-random sampling: Sobol, USSR Computational Mathematics and Mathematical Physics 7 (1967) 86; scrambling after
    Owen, as `scipy.stats.qmc` does it; errors from independent scramblings.

    Examples
    --------
    >>> import strutsweep as ss
    >>> corner = ss.demo("hillclimb_saloon").left
    >>> found = ss.spread(corner, {"points": 1.0}, readings=["caster", "scrub_radius"], samples=16384, seed=1)
    >>> [round(2.0 * float(s), 2) for s in found.data.standard_deviation]
    [0.14, 1.93]
    """
    check_corner("spread", corner)
    bounds = _limits(limits)
    names = list(dict.fromkeys([*checked_readings(readings), *bounds]))
    varied = scatter(corner, tolerances, correlation=correlation)
    grid = PoseGrid.of(inputs, travel_at)
    base = None if change_from is None else grid.replaced(mapping_of("change_from", change_from))
    block = poses_at_once(len(names) * (1 if base is None else 2))
    count, batches = batches_for(samples, min(block, len(grid.rows)) * len(names) * (1 if base is None else 2))
    if method not in ("sobol", "random"):
        raise unknown("method", method, ("sobol", "random"))
    workers = 0 if threads is None else thread_count("threads", threads)
    start = secrets.randbits(31) if seed is None else whole_number("seed", seed, 0)

    nominal, slopes = _linear(corner, grid, names, varied)
    if base is not None:
        from_nominal, from_slopes = _linear(corner, base, names, varied)
        nominal, slopes = nominal - from_nominal, slopes - from_slopes
    parts = contributions(varied, slopes)
    linear_deviation = parts.whole
    linear_mean = nominal + slopes @ (varied.weights @ varied.means)

    chances = Chances(bounds, names, count, batches, method)
    seeds = np.random.SeedSequence(start).generate_state(batches)
    through = None if base is not None else [name in THROUGH_INFINITY for name in names]
    blocks = []
    for first in range(0, len(grid.rows), block):
        # Poses beyond what memory can hold are worked on in turn, with the same samples.
        part = grid.part(first, first + block)
        base_part = None if base is None else base.part(first, first + block)
        kept = BatchStatistics(len(names), len(part.rows), count, batches, through)
        for place, batch_seed in enumerate(seeds):
            deviations = varied.draw(count, method, int(batch_seed))
            values = _sampled(corner, part, names, varied, deviations, workers)
            if base_part is not None:
                for one, other in zip(
                    values, _sampled(corner, base_part, names, varied, deviations, workers), strict=True
                ):
                    one -= other
            kept.add(values, workers)
            chances.add(place, values)
        blocks.append(kept.result(workers))
    found = {key: np.concatenate([one[key] for one in blocks], axis=1) for key in blocks[0]} | chances.result()
    dims, shape = grid.dims, (len(names), *grid.shape)
    flags = _flags(found, linear_mean, linear_deviation)
    words = _words(names, grid, found, linear_mean, linear_deviation, flags, count * batches)

    def along(values: npt.NDArray[Any], *more: str) -> tuple[tuple[str, ...], npt.NDArray[Any]]:
        return ("reading", *dims, *more), values.reshape(*shape, *values.shape[2:])

    variables: dict[str, Any] = {
        "nominal": (*along(nominal), {"long_name": "reading of the corner as given"}),
        "sample_mean": (*along(found["mean"]), {"long_name": "mean of the samples"}),
        "mean_error": (*along(found["mean_error"]), {"long_name": "sampling error of the mean, one standard error"}),
        "standard_deviation": (*along(found["deviation"]), {"long_name": "standard deviation of the samples"}),
        "standard_deviation_error": (*along(found["deviation_error"]), {"long_name": "its sampling error"}),
        "percentiles": (*along(found["percentiles"], "percentile"), {"long_name": "percentiles of the samples"}),
        "linear_mean": (*along(linear_mean), {"long_name": "mean, linear estimate"}),
        "linear_standard_deviation": (*along(linear_deviation), {"long_name": "standard deviation, linear estimate"}),
        **parts.variables(grid.sizes),
        "reached": (*along(found["reached"]), {"long_name": "share of samples in reach", "units": "1"}),
        "agreement": (
            *along(flags),
            {
                "long_name": "whether samples and linear estimate agree",
                "flag_values": np.arange(len(FLAGS), dtype=np.int8),
                "flag_meanings": " ".join(FLAGS),
            },
        ),
        "histogram": (*along(found["histogram"], "bin"), {"long_name": "samples in each bin of the histogram"}),
        "low": (*along(found["low"]), {"long_name": "lower end of the first bin"}),
        "high": (*along(found["high"]), {"long_name": "upper end of the last bin"}),
    }
    if bounds:
        variables["chance"] = (*along(found["chance"]), {"long_name": "chance of meeting the limit", "units": "1"})
        variables["chance_error"] = (*along(found["chance_error"]), {"long_name": "its sampling error", "units": "1"})
        variables["chance_everywhere"] = (
            ("reading",),
            found["chance_everywhere"],
            {"long_name": "chance of meeting the limit in every pose", "units": "1"},
        )
        variables["chance_everywhere_error"] = (
            ("reading",),
            found["chance_everywhere_error"],
            {"long_name": "its sampling error", "units": "1"},
        )
        for side, place in (("limit_low", 0), ("limit_high", 1)):
            at = [bounds.get(name, (math.nan, math.nan))[place] for name in names]
            variables[side] = (("reading",), at, {"long_name": side.replace("_", ", ")})
    coords: dict[str, Any] = {
        **grid.coordinates(),
        "reading": names,
        "reading_units": ("reading", [READINGS[name]["units"] for name in names]),
        "source": varied.names,
        "other_source": varied.names,
        "source_unit": ("source", varied.units),
        "source_deviation": ("source", varied.standard_deviations, {"comment": "standard deviation in source_unit"}),
        "percentile": ("percentile", list(PERCENTILES), {"units": "%"}),
    }
    attrs = dataset_attributes(corner, travel_at, "spread") | {
        "seed": start,
        "method": method,
        "samples": count * batches,
        "batches": batches,
        "percentiles_of": "all samples"
        if pooled(count, batches, len(names), min(block, len(grid.rows)))
        else "batches",
        "change_from": "" if change_from is None else ", ".join(f"{k} {v:g}" for k, v in change_from.items()),
    }
    of_all = (found["chance_of_all"], found["chance_of_all_error"]) if bounds else (None, None)
    if bounds:
        attrs |= {"chance_of_all": of_all[0], "chance_of_all_error": of_all[1]}
    return Spread(xr.Dataset(variables, coords, attrs), tuple(words), *of_all)


def _limits(
    given: Mapping[str, tuple[float | None, float | None]] | None,
) -> dict[str, tuple[float, float]]:
    bounds: dict[str, tuple[float, float]] = {}
    for name, ends in mapping_of("limits", {} if given is None else given).items():
        if name not in READINGS:
            raise unknown("limits", name, READINGS)
        try:
            low, high = ends
        except (TypeError, ValueError):
            raise InputError(f"limits: {name} needs (low, high), not {ends!r}", name=name, value=ends) from None
        if low is None and high is None:
            raise InputError(f"limits: {name} has neither a low end nor a high one", name=name, value=ends)
        least = -math.inf if low is None else one_number(f"limits: {name}", low)
        most = math.inf if high is None else one_number(f"limits: {name}", high)
        if not least <= most:
            units = READINGS[name]["units"]
            raise InputError(
                f"limits: {name} from {least:g} to {most:g} {units} is upside down", name=name, value=ends, unit=units
            )
        bounds[name] = (least, most)
    return bounds


def _linear(
    corner: Corner, grid: PoseGrid, names: Sequence[str], varied: Scatter
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Readings by poses, and their slopes in the scatter's parameters."""
    found = readings_and_slopes(corner, grid.rows, grid.travel_at, names, varied.parameters)
    return found.readings.T.copy(), np.swapaxes(found.slopes, 0, 1)


def _sampled(
    corner: Corner,
    grid: PoseGrid,
    names: Sequence[str],
    varied: Scatter,
    deviations: npt.NDArray[np.float64],
    threads: int,
) -> list[npt.NDArray[np.float64]]:
    """Of each reading, samples by poses."""
    count, poses = len(deviations), len(grid.rows)
    column = {name: deviations[:, place] for place, name in enumerate(varied.parameters)}
    fields: dict[str, npt.NDArray[np.float64]] = {}
    for place, field in enumerate(FIELDS):
        nominal = grid.rows[:, place]
        # A field that is one number stays one: rows of travels go faster so.
        row = nominal[:1] if (nominal == nominal[0]).all() else nominal
        fields[field] = row[None, :]
        if field in SETTINGS and field in column:
            fields[field] = row[None, :] + column[field][:, None]
    moved: dict[str, npt.NDArray[np.float64]] = {}
    at_design = {"wheel_radius": corner.wheel_radius, "camber": corner.camber, "toe": corner.toe}
    for keyword, spelled in HARD_POINT_FIELDS.items():
        coordinates = [f"{spelled}.{axis}" for axis in XYZ]
        if any(name in column for name in coordinates):
            at = np.tile(corner.points[keyword], (count, 1))
            for axis, name in enumerate(coordinates):
                if name in column:
                    at[:, axis] += column[name]
            moved[keyword] = at[:, None, :]
    for spelled, keyword in WHEEL_KEYWORDS.items():
        if spelled in column:
            moved[keyword] = at_design[keyword] + column[spelled][:, None]
    values, *_ = sweep_grid(
        corner, (count, poses), fields, moved, list(names), [], cast(TravelAt, grid.travel_at), threads, None
    )
    return [values[name] for name in names]


def _flags(
    found: Mapping[str, Any], linear_mean: npt.NDArray[np.float64], linear_deviation: npt.NDArray[np.float64]
) -> npt.NDArray[np.int8]:
    scale = np.maximum(np.fmax(linear_deviation, found["deviation"]), ROUND_OFF)
    scatters = np.fmax(linear_deviation, found["deviation"]) > ROUND_OFF

    def differs(gap: npt.NDArray[np.float64], error: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
        return np.asarray(scatters & (gap > DOUBT * error) & (gap > NOTABLE * scale))

    wider = differs(np.abs(found["deviation"] - linear_deviation), found["deviation_error"])
    shifted = differs(np.abs(found["mean"] - linear_mean), found["mean_error"])
    flags = wider.astype(np.int8) + 2 * shifted.astype(np.int8)
    return np.where(found["across"], NO_MOMENTS, flags).astype(np.int8)


def _words(
    names: Sequence[str],
    grid: PoseGrid,
    found: Mapping[str, Any],
    linear_mean: npt.NDArray[np.float64],
    linear_deviation: npt.NDArray[np.float64],
    flags: npt.NDArray[np.int8],
    samples: int,
) -> list[str]:
    """A sentence a reading where samples and linear estimate differ, at the pose where they differ most."""
    words = []
    for reading, name in enumerate(names):
        units, factor = shown(READINGS[name]["units"])
        in_units = "" if units == "-" else f" {units}"
        if (flags[reading] & 1).any():
            gap = np.where((flags[reading] & 1) > 0, np.abs(found["deviation"] / linear_deviation - 1.0)[reading], -1.0)
            worst = int(gap.argmax())
            sampled = factor * float(found["deviation"][reading, worst])
            linear = factor * float(linear_deviation[reading, worst])
            words.append(
                f"{name} at {grid.told(worst)}: the samples' standard deviation of {figures(sampled)}{in_units} is"
                f" {100.0 * abs(sampled / linear - 1.0):.1f} % {'above' if sampled > linear else 'below'} the linear"
                f" estimate of {figures(linear)}{in_units}, beyond sampling error: trust the samples."
            )
        if (flags[reading] & 2).any():
            gap = np.where((flags[reading] & 2) > 0, np.abs(found["mean"] - linear_mean)[reading], -1.0)
            worst = int(gap.argmax())
            shift = factor * float((found["mean"] - linear_mean)[reading, worst])
            words.append(
                f"{name} at {grid.told(worst)}: the samples' mean lies {figures(abs(shift))}{in_units}"
                f" {'above' if shift > 0.0 else 'below'} the linear estimate, beyond sampling error: scatter shifts it."
            )
        if found["across"][reading].any():
            below = np.where(found["across"][reading], found["below"][reading], np.nan)
            worst = int(np.nanargmin(np.abs(below - 0.5)))
            words.append(
                f"{name} at {grid.told(worst)}: it passes through infinity within the scatter"
                f" ({100.0 * below[worst]:.3g} % of the samples lie below 0, the others above), so that it has no mean"
                " and no standard deviation; beyond the largest value comes the most negative one. A rate says more."
            )
        if (found["reached"][reading] * samples < FEWEST_FOR_PERCENTILES).any():
            words.append(
                f"{name}: fewer than {FEWEST_FOR_PERCENTILES} samples are in reach somewhere: no percentiles there."
            )
        if (found["reached"][reading] < 1.0).any():
            worst = int(found["reached"][reading].argmin())
            share = 100.0 * (1.0 - float(found["reached"][reading, worst]))
            words.append(f"{name} at {grid.told(worst)}: {share:.3g} % of the samples are out of reach and left out.")
    return words
