"""How sure: what scatters most, how readings are distributed, what a fit learned, what one goal costs another."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from strutsweep._fit_problem import gauge_name
from strutsweep._printed import figures
from strutsweep._printed import shown as shown_unit
from strutsweep.errors import InputError
from strutsweep.fitting import Fit
from strutsweep.plots.sheet import (
    BLUE,
    GREEN,
    INK,
    LABEL_PT,
    MARGIN_IN,
    NOTE_PT,
    PENCIL,
    PLAIN,
    RED,
    SHADE,
    SMALL,
    TICK_PT,
    Sheet,
    dress,
    foot,
    header,
    header_height_in,
    name_with_unit,
    number,
    panel_heading,
    panels_between,
    positive_way,
    sheet,
)
from strutsweep.sensitivity import Sensitivities, one_pose
from strutsweep.spreading import Spread, in_per_cent
from strutsweep.trading_off import TradeOff
from strutsweep.words import MOTIONS, READINGS, SETTINGS

__all__ = ["fitted", "histograms", "learned", "tornado", "trade_off_curve"]

_PANEL_IN: Final = (3.35, 2.6)
_ROW_IN: Final = 0.25
"""Height of a bar with its gap."""
_MOST_PANELS_IN_A_ROW: Final = 3
_LEAST_SHARE: Final = 5e-4
"""A source with less of the variance than this has no bar: it would print as nothing."""
_NORMAL_POINTS: Final = 201
_BAND: Final = 2.0
"""Standard deviations that a band reaches to either side: 95 % of a normal distribution."""

_Block = tuple[Sequence[Any], Sequence[str], str | None, bool]


def _laid_out(width_in: float, panels_in: float, title: str, notes: Sequence[str], blocks: Sequence[_Block]) -> Sheet:
    """A sheet with header and foot, and room of this height for panels between."""
    figure = sheet(width_in, layout="constrained")
    foot_in = foot(figure, blocks)
    head_in = header_height_in(title, notes, width_in)
    height_in = head_in + panels_in + foot_in + MARGIN_IN
    figure.set_size_inches(width_in, height_in)
    header(figure, title, notes)
    panels_between(figure, head_in, foot_in)
    return figure


def _pose_in_words(data: xr.Dataset) -> str:
    told = [
        f"{name} {number(float(data[name]), signed=name != 'travel')} {data[name].attrs['units']}"
        for name in (*MOTIONS, *SETTINGS)
        if name in data.coords and data[name].ndim == 0 and float(data[name])
    ]
    return "At " + ", ".join(told) if told else "At design"


def _held(data: xr.Dataset) -> str:
    attrs = data.attrs
    change = f" Shown is the change from {attrs['change_from']}." if attrs.get("change_from") else ""
    return f"{_pose_in_words(data)}; travel measured at the {attrs['travel_at']}, {attrs['held']} held.{change}"


def _with_unit(value: float, units: str) -> str:
    """A number with the unit that tables show: a rate in deg/m, though the axes of a picture keep deg/mm."""
    unit, factor = shown_unit(units)
    return figures(factor * value) + ("" if unit == "-" else f" {unit}")


def tornado(
    found: Spread | Sensitivities, reading: str, *, most: int = 12, at: Mapping[str, Any] | None = None
) -> Figure:
    """What scatters a reading most: a bar a source, the longest on top.

    Parameters
    ----------
    found : Spread or Sensitivities
        What `strutsweep.spread` or `strutsweep.sensitivities` returned, with tolerances.
    reading : str
        The reading, deg or mm.
    most : int
        How many bars; the rest is summed up in one.
    at : mapping, optional
        The pose, where there are several: ``at={"travel": 40}``. The nearest one is taken.

    Returns
    -------
    matplotlib.figure.Figure
        Each bar reaches to plus and minus the standard deviation that its source alone would give, beside its share of
        the variance. Coloured by whether the reading grows or falls with the source.

    Raises
    ------
    InputError
        The reading was not computed, several poses are left, or there are no tolerances.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep import plots
    >>> found = ss.sensitivities(ss.demo("gravel_hatch").left, {"points": 1.0}, readings=["toe", "bump_steer"])
    >>> plots.tornado(found, "bump_steer").axes[0].get_yticklabels()[0].get_text()
    'tie_rod.inner.z'
    """
    data = one_pose(found.data, at)
    if "share" not in data:
        raise InputError("found: without tolerances nothing scatters", name="found", value=found)
    if reading not in data.reading.values:
        raise InputError(f"reading: {reading!r} was not computed", name="reading", value=reading)
    one = data.sel(reading=reading)
    share = one.share.values
    whole = float(one["linear_standard_deviation" if "linear_standard_deviation" in one else "standard_deviation"])
    effect, correlation = one.effect.values, one.source_correlation.values
    correlated = bool((correlation != np.eye(len(correlation))).any())
    order = np.argsort(-np.abs(effect), kind="stable")
    worth = order[(np.abs(share[order]) >= _LEAST_SHARE) | (effect[order] ** 2 >= _LEAST_SHARE * whole**2)]
    shown = worth[:most] if len(worth) else order[:1]
    rest = order[len(shown) :]
    rest = rest[effect[rest] != 0.0]
    together = math.sqrt(max(0.0, float(effect[rest] @ correlation[np.ix_(rest, rest)] @ effect[rest])))
    if together**2 < _LEAST_SHARE * whole**2:
        rest = rest[:0]
    names = [str(one.source.values[place]) for place in shown]
    lengths = [abs(float(effect[place])) for place in shown]
    falls = [bool(effect[place] < 0.0) for place in shown]
    shares = [float(share[place]) for place in shown]
    if len(rest):
        names.append(f"{len(rest)} others together")
        lengths.append(together)
        falls.append(False)
        shares.append(float(share[rest].sum()))
    units = READINGS[reading]["units"]
    title = f"{data.attrs['car']}, {data.attrs['side']} corner: what scatters {READINGS[reading]['long_name']}"
    notes = [
        f"{_held(data)} Each bar: plus and minus the standard deviation that this source alone gives;"
        f" all together {_with_unit(whole, units)}, by the linear estimate. Per cent: share of the variance"
        + ("; below zero where a source takes back what others that go together with it give." if correlated else ".")
    ]
    handles = [Patch(facecolor=BLUE, edgecolor="none"), Patch(facecolor=RED, edgecolor="none")]
    labels = ["reading grows with the dimension", "reading falls as the dimension grows"]
    blocks: list[_Block] = [(handles, labels, None, True)]
    figure = _laid_out(7.2, _ROW_IN * len(names) + 0.75, title, notes, blocks)
    axes = figure.add_subplot(1, 1, 1)
    dress(axes)
    axes.grid(False, axis="y")
    heights = np.arange(len(names))
    colours = [
        PENCIL if len(rest) and place == len(names) - 1 else RED if fall else BLUE for place, fall in enumerate(falls)
    ]
    axes.barh(
        heights, [2.0 * length for length in lengths], left=[-length for length in lengths], height=0.62, color=colours
    )
    reach = max(lengths) or 1.0
    for height, (length, part) in enumerate(zip(lengths, shares, strict=True)):
        axes.text(length + 0.03 * reach, float(height), f"{100.0 * part:.1f} %", va="center", ha="left", **SMALL)
    axes.axvline(0.0, color=INK, linewidth=0.8, **PLAIN)
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.set_xlim(-1.12 * reach, 1.22 * reach)
    axes.set_yticks(heights, names, fontsize=TICK_PT)
    axes.tick_params(axis="y", length=0.0)
    axes.spines["left"].set_visible(False)
    axes.set_xlabel(f"scatter of {name_with_unit(reading)}, one standard deviation", fontsize=LABEL_PT, color=INK)
    axes.ticklabel_format(axis="x", style="plain", useOffset=False)
    axes.locator_params(axis="x", nbins=7)
    return figure


def histograms(
    found: Spread, *, readings: str | Sequence[str] | None = None, at: Mapping[str, Any] | None = None
) -> Figure:
    """How readings are distributed: the samples, and the linear estimate over them.

    Parameters
    ----------
    found : Spread
        What `strutsweep.spread` returned.
    readings : str or sequence of str, optional
        Which readings; those that scatter unless given.
    at : mapping, optional
        The pose, where there are several. The nearest one is taken.

    Returns
    -------
    matplotlib.figure.Figure
        One panel a reading: bars of the samples, the bell of the linear estimate, the nominal value, the band that
        holds 95 % of the samples, and limits where there are any.

    Raises
    ------
    InputError
        A reading that was not computed, several poses left, or nothing that scatters.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep import plots
    >>> corner = ss.demo("gravel_hatch").left
    >>> found = ss.spread(corner, {"points": 1.0}, readings=["caster", "toe"], samples=1024, seed=1)
    >>> len(plots.histograms(found).axes)
    1
    """
    data = one_pose(found.data, at)
    scatters = [str(name) for name in data.reading.values if float(data.standard_deviation.sel(reading=name)) > 1e-9]
    names = scatters if readings is None else [readings] if isinstance(readings, str) else list(readings)
    for name in names:
        if name not in data.reading.values:
            raise InputError(f"readings: {name!r} was not computed", name="readings", value=name)
    names = [name for name in names if name in scatters]
    if not names and readings is not None and data.standard_deviation.isnull().any():
        raise InputError(
            "readings: they pass through infinity within the scatter: there is nothing to draw",
            name="readings",
            value=readings,
        )
    if not names:
        raise InputError("readings: none of them scatters", name="readings", value=readings)
    columns = min(len(names), _MOST_PANELS_IN_A_ROW) if len(names) != 4 else 2
    rows = math.ceil(len(names) / columns)
    attrs = data.attrs
    title = f"{attrs['car']}, {attrs['side']} corner: how sure"
    notes = [f"{_held(data)} {attrs['samples']:,} samples, seed {attrs['seed']}."]
    handles: list[Any] = [
        Patch(facecolor=BLUE, alpha=0.35, edgecolor="none"),
        Line2D([], [], color=INK, linewidth=1.6),
        Line2D([], [], color=GREEN, linewidth=1.4),
        Line2D([], [], color=PENCIL, linewidth=1.0, linestyle=(0, (4, 3))),
    ]
    labels = ["samples", "linear estimate", "corner as given", "95 % of the samples lie between"]
    limited = "chance" in data and any(math.isfinite(float(data.chance.sel(reading=name))) for name in names)
    if limited:
        handles.append(Patch(facecolor=RED, alpha=0.13, edgecolor="none"))
        labels.append("beyond the limit")
    width_in = columns * (_PANEL_IN[0] if columns > 1 else 5.6) + 2.0 * MARGIN_IN
    figure = _laid_out(width_in, rows * _PANEL_IN[1], title, notes, [(handles, labels, None, True)])
    grid = figure.add_gridspec(rows, columns)
    for place, name in enumerate(names):
        axes = figure.add_subplot(grid[place // columns, place % columns])
        _histogram(axes, data.sel(reading=name), name, limited, width_in / columns - 0.75)
    return figure


def _histogram(axes: Axes, one: xr.Dataset, name: str, limited: bool, room_in: float) -> None:
    dress(axes)
    counts = one["histogram"].values
    low, high = float(one.low), float(one.high)
    edges = np.linspace(low, high, len(counts) + 1)
    density = counts / counts.sum() / np.diff(edges)
    axes.bar(edges[:-1], density, np.diff(edges), align="edge", color=BLUE, alpha=0.35, linewidth=0.0, zorder=2.0)
    mean, deviation = float(one.linear_mean), float(one.linear_standard_deviation)
    top = float(density.max())
    if deviation > 0.0:
        across = np.linspace(low, high, _NORMAL_POINTS)
        bell = np.exp(-0.5 * ((across - mean) / deviation) ** 2) / (deviation * math.sqrt(2.0 * math.pi))
        axes.plot(across, bell, color=INK, linewidth=1.6, zorder=3.0, **PLAIN)
        top = max(top, float(bell.max()))
    axes.axvline(float(one.nominal), color=GREEN, linewidth=1.4, zorder=3.5, **PLAIN)
    for percent in (one.percentile.values[0], one.percentile.values[-1]):
        at = float(one.percentiles.sel(percentile=percent))
        axes.axvline(at, color=PENCIL, linewidth=1.0, linestyle=(0, (4, 3)), marker="", zorder=3.2)
    aside = ""
    if limited and math.isfinite(float(one.chance)):
        least, most = float(one.limit_low), float(one.limit_high)
        if least > low:
            axes.axvspan(low, min(least, high), facecolor=RED, alpha=0.13, linewidth=0.0, zorder=1.0)
        if most < high:
            axes.axvspan(max(most, low), high, facecolor=RED, alpha=0.13, linewidth=0.0, zorder=1.0)
        aside = f"; limit met by {in_per_cent(float(one.chance), float(one.chance_error))} %"
    axes.set_xlim(low, high)
    axes.set_ylim(0.0, 1.08 * top)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    spread = float(one.standard_deviation)
    panel_heading(axes, name, room_in, as_label=False, aside=aside)
    axes.set_xlabel(
        f"one standard deviation: {_with_unit(spread, READINGS[name]['units'])}", fontsize=TICK_PT, color=PENCIL
    )
    axes.locator_params(axis="x", nbins=5, steps=[1, 2, 2.5, 5, 10])
    axes.ticklabel_format(axis="x", style="plain", useOffset=False)


def learned(found: Fit, *, most: int = 24) -> Figure:
    """What a fit learned: the standard deviation of each unknown before and after the measurements.

    Parameters
    ----------
    found : Fit
        What `strutsweep.fit` returned.
    most : int
        How many unknowns; those that became surest come first.

    Returns
    -------
    matplotlib.figure.Figure
        An unknown a line: a ring before, a dot after, and a cross where the fit moved it to.

    Raises
    ------
    InputError
        No unknown had a finite standard deviation before.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep import plots
    >>> corner = ss.demo("gravel_hatch").left
    >>> found = ss.fit(corner, ss.Measurements.curve("caster", 3.3, 0.05), {"strut.top": ss.normal(2.0)})
    >>> len(plots.learned(found).axes)
    1
    """
    before, after = found.unknowns.before.values, found.unknowns.after.values
    finite = np.flatnonzero(np.isfinite(before))
    if not len(finite):
        raise InputError("found: of no unknown anything was known before", name="found", value=found)
    order = finite[np.argsort((after / before)[finite], kind="stable")][:most]
    left_out = len(before) - len(order)
    attrs = found.unknowns.attrs
    title = f"{attrs['car']}, {attrs['side']} corner: what the measurements taught"
    notes = [
        f"{len(found.measurements)} measurements; unknowns in units of what was known of them before."
        + (f" {left_out} more, less improved, are not shown." if left_out else "")
    ]
    handles = [
        Line2D([], [], color=PENCIL, linewidth=5.0, alpha=0.35),
        Line2D([], [], color=BLUE, linewidth=5.0),
        Line2D([], [], color=RED, linestyle="none", marker="x", markersize=6.5, markeredgewidth=1.6),
    ]
    labels = ["known before, one standard deviation", "known after", "moved by the fit"]
    figure = _laid_out(7.2, _ROW_IN * len(order) + 0.75, title, notes, [(handles, labels, None, True)])
    axes = figure.add_subplot(1, 1, 1)
    dress(axes)
    axes.grid(False, axis="y")
    heights = np.arange(len(order))
    moved = found.unknowns.moved.values[order] / before[order]
    share = after[order] / before[order]
    axes.barh(heights, np.full(len(order), 2.0), left=-1.0, height=0.62, color=PENCIL, alpha=0.2)
    axes.barh(heights, 2.0 * share, left=moved - share, height=0.34, color=BLUE)
    axes.plot(moved, heights, linestyle="none", marker="x", color=RED, markersize=6.5, markeredgewidth=1.6, zorder=4.0)
    axes.axvline(0.0, color=INK, linewidth=0.8, **PLAIN)
    axes.set_ylim(len(order) - 0.4, -0.6)
    reach = max(1.2, float(np.abs(moved).max() + share.max()) * 1.05)
    axes.set_xlim(-reach, reach)
    axes.set_yticks(heights, [str(found.unknowns.source.values[place]) for place in order], fontsize=TICK_PT)
    axes.tick_params(axis="y", length=0.0)
    axes.spines["left"].set_visible(False)
    axes.set_xlabel("moved from the corner as given, in standard deviations known before", fontsize=LABEL_PT, color=INK)
    return figure


def fitted(found: Fit, *, along: str = "travel") -> Figure:
    """Measured curves, the corner as it was given, and the corner as fitted with its band.

    Parameters
    ----------
    found : Fit
        What `strutsweep.fit` returned.
    along : str
        The field of setting or motion that the curves run along.

    Returns
    -------
    matplotlib.figure.Figure
        One panel a curve: measured numbers with two accuracies to either side, the given corner dashed, the fitted one
        with two standard deviations to either side. Curves whose gauge was zeroed are moved by the zero that was
        fitted.

    Raises
    ------
    InputError
        No curve runs along this.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep import plots
    >>> bump = ss.Measurements.curve("toe", [0.19, 0.0, 0.02], 0.02, travel=[-40.0, 0.0, 40.0], zeroed=True)
    >>> found = ss.fit(ss.demo("gravel_hatch").left, bump, {"tie_rod.outer": ss.normal(2.0)})
    >>> len(plots.fitted(found).axes)
    1
    """
    from strutsweep._poses import FIELDS, readings_and_slopes

    if along not in FIELDS:
        raise InputError(f"along: there is no {along!r}", name="along", value=along)
    measured, column = found.measurements, FIELDS.index(along)
    curves = []
    gauges = list(zip(measured.curves, measured.reading, strict=True))
    for gauge in dict.fromkeys(gauges):
        own = np.array([other == gauge for other in gauges])
        if len(np.unique(measured.rows[own, column])) > 1:
            curves.append((gauge_name(measured, gauge), own))
    if not curves:
        raise InputError(f"along: no curve runs along {along}", name="along", value=along)
    columns = min(len(curves), _MOST_PANELS_IN_A_ROW) if len(curves) != 4 else 2
    rows = math.ceil(len(curves) / columns)
    attrs = found.unknowns.attrs
    title = f"{attrs['car']}, {attrs['side']} corner: measured and fitted"
    notes = [f"Bands and bars: two standard deviations to either side. {len(measured)} measurements."]
    handles: list[Any] = [
        Line2D([], [], color=INK, linestyle="none", marker="o", markersize=4.5),
        Line2D([], [], color=PENCIL, linewidth=1.4, linestyle=(0, (4, 3))),
        Line2D([], [], color=BLUE, linewidth=1.8),
        Patch(facecolor=BLUE, alpha=0.2, edgecolor="none"),
    ]
    labels = ["measured", "points as given", "points as fitted", "how sure the fit is"]
    width_in = columns * (_PANEL_IN[0] if columns > 1 else 5.6) + 2.0 * MARGIN_IN
    figure = _laid_out(width_in, rows * 2.75, title, notes, [(handles, labels, None, True)])
    grid = figure.add_gridspec(rows, columns)
    for place, (name, own) in enumerate(curves):
        axes = figure.add_subplot(grid[place // columns, place % columns])
        dress(axes)
        some = measured.chosen(own)
        order = np.argsort(some.rows[:, column], kind="stable")
        across = np.linspace(some.rows[:, column].min(), some.rows[:, column].max(), 61)
        path = np.array(
            [np.interp(across, some.rows[order, column], some.rows[order, field]) for field in range(len(FIELDS))]
        ).T
        reading = some.reading[0]
        lines = []
        for corner, setting in ((found.start, {}), (found.corner, found.setting)):
            poses = path.copy()
            for field, value in setting.items():
                poses[:, FIELDS.index(field)] += value
            lines.append(readings_and_slopes(corner, poses, some.travel_at[0], [reading], found.parameters))
        root = found.parameter_covariance
        deviation = np.sqrt(np.einsum("pz,zy,py->p", lines[1].slopes[:, 0], root, lines[1].slopes[:, 0]))
        middle = lines[1].readings[:, 0]
        shift = -found.offsets.get(name, 0.0)
        axes.fill_between(
            across, middle - _BAND * deviation, middle + _BAND * deviation, color=BLUE, alpha=0.2, linewidth=0
        )
        axes.plot(across, lines[0].readings[:, 0], color=PENCIL, linewidth=1.4, linestyle=(0, (4, 3)), marker="")
        axes.plot(across, middle, color=BLUE, linewidth=1.8, **PLAIN)
        axes.errorbar(
            some.rows[:, column],
            some.value + shift,
            yerr=_BAND * some.accuracy,
            color=INK,
            linestyle="none",
            marker="o",
            markersize=3.5,
            linewidth=0.9,
            zorder=4.0,
        )
        aside = "; gauge zeroed" if some.zeroed[0] else ""
        axes.set_title(f"{positive_way(reading)}{aside}", loc="left", pad=5.0, **SMALL)
        label = name if name != reading else READINGS[reading]["long_name"]
        axes.set_ylabel(f"{label}\n({READINGS[reading]['units']})", fontsize=LABEL_PT, color=INK)
        axes.set_xlabel(f"{name_with_unit(along)}\n{positive_way(along)}", fontsize=LABEL_PT, color=INK)
        axes.locator_params(axis="both", nbins=6)
        axes.ticklabel_format(axis="both", style="plain", useOffset=False)
    return figure


def trade_off_curve(found: TradeOff) -> Figure:
    """What one goal costs the other: the curve of the best that can be had, and the corner as it is.

    Parameters
    ----------
    found : TradeOff
        What `strutsweep.trade_off` returned.

    Returns
    -------
    matplotlib.figure.Figure
        The first goal across, the second up, both the smaller the better, in their units; and beside them, how far each
        variable moves along the curve, in mm or deg. Points that do not keep all limits are crosses off the curve.

    Raises
    ------
    InputError
        No point keeps all limits.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> from strutsweep import plots
    >>> travel = {"travel": np.linspace(-40, 40, 9)}
    >>> goals = ss.Quantity("toe", "range", travel), ss.Quantity("camber", "range", travel)
    >>> free = {"tie_rod.inner.z": (-8, 8), "strut.top.y": (-10, 10)}
    >>> found = ss.trade_off(ss.demo("gravel_hatch").left, *goals, free, points=3, seed=1)
    >>> len(plots.trade_off_curve(found).axes)
    2
    """
    data = found.data
    attrs = data.attrs
    title = f"{attrs['car']}, {attrs['side']} corner: what one goal costs the other"
    notes = [
        "Both goals are the better the smaller. Points are computed, the line only joins them. In the grey lies no"
        " answer within the bounds, as far as was found: it would be better than a point in both goals."
    ]
    handles: list[Any] = [
        Line2D([], [], color=BLUE, linewidth=1.8, marker="o", markersize=5.0),
        Line2D([], [], color=RED, linestyle="none", marker="s", markersize=6.5),
        Patch(facecolor=SHADE, edgecolor="none"),
    ]
    labels = ["the best that can be had", "the corner as it is", "out of reach within the bounds"]
    if not data.met.all():
        handles.append(Line2D([], [], color=RED, linestyle="none", marker="x", markersize=6.5, markeredgewidth=1.6))
        labels.append("limits not met: no point of the curve")
    figure = _laid_out(8.6, 3.6, title, notes, [(handles, labels, None, True)])
    grid = figure.add_gridspec(1, 2, width_ratios=[1.15, 1.0])
    axes = figure.add_subplot(grid[0, 0])
    dress(axes)
    met = data.met.values.astype(bool)
    if not met.any():
        raise InputError("found: no point of it keeps all limits", name="found", value=found)
    every_x, every_y = data.first.values, data.second.values
    across, up = every_x[met], every_y[met]
    start = (attrs["first_as_it_is"], attrs["second_as_it_is"])
    # A corner whose poses cannot all be reached as it is has no place in the picture.
    ends_x, ends_y = (np.append(every, at) for every, at in zip((every_x, every_y), start, strict=True))
    ends_x, ends_y = ends_x[np.isfinite(ends_x)], ends_y[np.isfinite(ends_y)]
    right, top = float(ends_x.max()), float(ends_y.max())
    low_x, low_y = float(min(ends_x.min(), across.min())), float(min(ends_y.min(), up.min()))
    room_x, room_y = 0.08 * (right - low_x) or 1e-6, 0.1 * (top - low_y) or 1e-6
    axes.set_xlim(low_x - room_x, right + room_x)
    axes.set_ylim(low_y - room_y, top + room_y)
    # Steps: between two points the best may be anywhere from the corner of a step up, below the straight line too.
    order = np.argsort(across, kind="stable")
    steps_x, steps_y = np.repeat(across[order], 2), np.append(np.repeat(up[order], 2)[1:], up[order][-1])
    edge_x = np.concatenate(
        [[low_x - room_x, steps_x[0]], steps_x[1:], [right + room_x, right + room_x, low_x - room_x]]
    )
    edge_y = np.concatenate([[top + room_y, top + room_y], steps_y[1:], [up.min(), low_y - room_y, low_y - room_y]])
    axes.fill(edge_x, edge_y, color=SHADE, linewidth=0.0, zorder=1.0)
    axes.plot(across, up, color=BLUE, linewidth=1.8, marker="o", markersize=5.0, linestyle="-", zorder=3.0)
    axes.plot(*start, linestyle="none", marker="s", color=RED, markersize=6.5, zorder=4.0)
    if not met.all():
        axes.plot(every_x[~met], every_y[~met], linestyle="none", marker="x", color=RED, markersize=6.5, zorder=3.5)
    axes.set_xlabel(f"{found.first.words}\n({found.first.units})", fontsize=LABEL_PT, color=INK)
    axes.set_ylabel(f"{found.second.words}\n({found.second.units})", fontsize=LABEL_PT, color=INK)
    axes.ticklabel_format(axis="both", style="plain", useOffset=False)
    axes.locator_params(axis="both", nbins=6)

    moves = figure.add_subplot(grid[0, 1])
    dress(moves)
    colours = (BLUE, RED, GREEN, PENCIL, INK)
    for place, name in enumerate(data.variable.values):
        moves.plot(
            across,
            data.move.isel(variable=place).values[met],
            color=colours[place % len(colours)],
            linestyle=("-", (0, (4, 2)))[place // len(colours) % 2],
            linewidth=1.5,
            marker="o",
            markersize=3.5,
            label=f"{name} ({str(data.unit.values[place])})",
        )
    moves.axhline(0.0, color=PENCIL, linewidth=0.8, **PLAIN)
    moves.set_xlabel(f"{found.first.words}\n({found.first.units})", fontsize=LABEL_PT, color=INK)
    moves.set_ylabel("move", fontsize=LABEL_PT, color=INK)
    # Above the panel: within it some line would run through the words.
    moves.legend(
        fontsize=NOTE_PT, frameon=False, labelcolor=INK, loc="lower left", bbox_to_anchor=(0.0, 1.0), borderaxespad=0.2
    )
    moves.ticklabel_format(axis="both", style="plain", useOffset=False)
    return figure
