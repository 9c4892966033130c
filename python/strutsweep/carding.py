"""The card: what each adjuster does on one car, per mm or degree, and how far those figures hold."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Axle, Corner, __version__
from strutsweep._inputs import TravelAt, check_corner, checked_names, one_number, unknown
from strutsweep._tables import Table, amount, html_of, text_of
from strutsweep._wanting import Along, along_of, along_text, check_along, corner_of_side
from strutsweep.errors import InputError
from strutsweep.sweeping import sweep
from strutsweep.words import READINGS, SETTINGS, TRAVEL_AT

__all__ = ["Card", "card"]

HOLDS_TO = 0.02
"""Share of its own change by which a linear figure may miss and still holds."""

_STEPS = 200
"""Places on either side at which a figure is compared with the sweep."""

_SPANS = {"mm": 25.0, "deg": 3.0}
"""How far either way a card looks, unless the car or the caller says otherwise."""

_FIGURES = (
    "camber",
    "caster",
    "kingpin_inclination",
    "toe",
    "scrub_radius",
    "mechanical_trail",
    "half_track",
    "hub_forward",
    "bump_steer",
    "strut_compression",
)

_HUB_FORWARD = {"units": "mm", "long_name": "wheel centre moved fore-aft", "positive": "forward"}

_SMALL = {"deg": 1e-6, "mm": 1e-6, "deg/mm": 1e-9}
"""A change per mm or deg below this is none: it has no range in which to hold."""


@dataclass(frozen=True)
class Card:
    """What each adjuster of one corner does, and how far the figures hold.

    Attributes
    ----------
    dataset : xarray.Dataset
        Along ``adjuster`` and ``figure``: ``slope`` (per mm or deg of the adjuster), ``holds_from`` and ``holds_to``
        (moves of the adjuster between which slope times move tells the change to 2 %; infinite where it holds
        over all that was looked at, NaN where there is no change), and ``looked_from`` and ``looked_to`` along
        ``adjuster``.
    """

    dataset: xr.Dataset

    def tables(self) -> list[Table]:
        """The card as tables: figures, and the ranges in which they hold."""
        ds = self.dataset
        figures = [str(name) for name in ds.figure.values]
        heads = [
            "adjuster",
            "per",
            *(
                f"{_short(name)} [{_shown_unit(str(unit))}]"
                for name, unit in zip(figures, ds.figure_units.values, strict=True)
            ),
        ]
        rows, ranges = [], []
        for adjuster in map(str, ds.adjuster.values):
            one = ds.sel(adjuster=adjuster)
            unit = SETTINGS[adjuster]["units"]
            cells = []
            for name in figures:
                factor = 1000.0 if str(one.figure_units.sel(figure=name).values) == "deg/mm" else 1.0
                cells.append(amount(float(one.slope.sel(figure=name)) * factor, 4, signed=True))
            rows.append([adjuster, unit, *cells])
            least, most = float(one.looked_from), float(one.looked_to)
            spans = [
                _span(float(one.holds_from.sel(figure=n)), float(one.holds_to.sel(figure=n)), least, most)
                for n in figures
            ]
            ranges.append([adjuster, unit, *spans])
        return [
            Table(f"{ds.attrs['title']}: change per mm or deg", heads, rows, frozenset({0, 1})),
            Table("Holds to 2 % from .. to", ["adjuster", "in", *map(_short, figures)], ranges, frozenset({0, 1})),
        ]

    def notes(self) -> list[str]:
        """What is held and what the signs mean, in sentences."""
        ds = self.dataset
        signs = "; ".join(f"{name}: {SETTINGS[name]['positive']}" for name in map(str, ds.adjuster.values))
        ways = "; ".join(
            f"{_short(str(n))}: {w}" for n, w in zip(ds.figure.values, ds.figure_positive.values, strict=True)
        )
        return [
            f"Held: {ds.attrs['held']} (travel is measured at the {ds.attrs['travel_at']}), every other adjuster,"
            " the tie rod among them.",
            *([f"Goes along: {ds.attrs['along']} (the top slides in its tower's face)."] if ds.attrs["along"] else []),
            "True for this car, at this ride height and setting only. A range with >= or <= holds at least as far"
            " as was looked; - : no change to speak of.",
            f"Positive adjusters: {signs}.",
            f"Positive figures: {ways}.",
        ]

    def __str__(self) -> str:
        return text_of(self.tables(), self.notes())

    def _repr_html_(self) -> str:
        return html_of(self.tables(), self.notes())


def _short(name: str) -> str:
    return name.replace("_", " ").replace("kingpin inclination", "kingpin").replace("mechanical trail", "trail")


def _shown_unit(unit: str) -> str:
    return "deg/m" if unit == "deg/mm" else unit


def _span(low: float, high: float, least: float, most: float) -> str:
    if math.isnan(low) and math.isnan(high):
        return "-"
    start = f"<={least:+.3g}" if math.isinf(low) else f"{low:+.2g}"
    end = f">={most:+.3g}" if math.isinf(high) else f"{high:+.2g}"
    return f"{start} .. {end}"


def card(
    car: Corner | Axle,
    adjusters: Iterable[str] | str | None = None,
    *,
    side: str = "left",
    start: Mapping[str, float] | None = None,
    travel: float = 0.0,
    rack: float = 0.0,
    roll: float = 0.0,
    travel_at: TravelAt = "ground",
    spans: Mapping[str, float] | None = None,
    along: Along | None = None,
) -> Card:
    """What each adjuster does on this car at this ride height, and how far those figures hold.

    Slopes are exact. Beside each stands the range in which it tells the change to 2 %: the sweep itself is asked, on
    either side, at 200 places.

    Parameters
    ----------
    car : Corner or Axle
        The corner, or the car, of which `side` is taken.
    adjusters : str or iterable of str, optional
        Settings to look at; all of them unless given.
    side : {"left", "right"}
        Which corner of a car.
    start : mapping of str to float, optional
        The setting about which to look; as measured unless given.
    travel, rack, roll : float
        The motion, in mm and deg.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, and so what is held: ride height, hub height, spring length.
    spans : mapping of str to float, optional
        How far either way to look, in mm or deg; 25 mm and 3 deg unless given.
    along : mapping of str to mapping, optional
        Settings that go along with an adjuster, as in `plan`: a strut top on a tilted tower falls as it slides inboard.
        That of the car file's ``[top_plate]`` unless given; a corner by itself knows none.

    Returns
    -------
    Card
        With ``dataset``; printed it is a table, in a notebook HTML.

    Raises
    ------
    InputError
        An unknown name or side, a span that is not above zero.
    ReachError
        The pose is out of reach.

    Examples
    --------
    >>> import strutsweep as ss
    >>> found = ss.card(ss.demo("hillclimb_saloon").left, ["mount_in", "tie_rod"])
    >>> round(float(found.dataset.slope.sel(adjuster="mount_in", figure="camber")), 4)
    -0.0794
    >>> float(found.dataset.holds_to.sel(adjuster="mount_in", figure="camber")) > 10.0
    True
    """
    if isinstance(car, Axle):
        corner = corner_of_side(car, side)
        along = along_of(car) if along is None else along
    else:
        check_corner("card", car)
        corner = car
    follow = check_along(along or {})
    names = checked_names("adjusters", list(SETTINGS) if adjusters is None else adjusters, SETTINGS)
    setting = dict.fromkeys(SETTINGS, 0.0)
    for name, value in (start or {}).items():
        if name not in SETTINGS:
            raise unknown("start", name, SETTINGS)
        setting[name] = one_number("start", name, value)
    for name in spans or {}:
        if name not in SETTINGS:
            raise unknown("spans", name, SETTINGS)
    pose: dict[str, Any] = {"travel": travel, "rack": rack, "roll": roll, "travel_at": travel_at, **setting}
    readings = [name for name in _FIGURES if name in READINGS]
    slopes = corner.derivatives(list(SETTINGS), **pose, readings=readings, places=["wheel_centre"])
    slope = np.empty((len(names), len(_FIGURES)))
    holds = np.empty((2, len(names), len(_FIGURES)))
    looked = np.empty((2, len(names)))
    for row, name in enumerate(names):
        span = float((spans or {}).get(name, _SPANS[SETTINGS[name]["units"]]))
        if not 0.0 < span < math.inf:
            raise InputError(f"spans: {name} = {span} is not a finite number above zero", name=name, value=span)
        moves = np.linspace(-span, span, 2 * _STEPS + 1)
        # What moves with this adjuster, itself first, and how far per unit of it.
        pace = {name: 1.0, **{one: rates[name] for one, rates in follow.items() if name in rates and one != name}}
        given = {**pose, **{one: xr.DataArray(setting[one] + per * moves, dims="move") for one, per in pace.items()}}
        swept = sweep(corner, **given, readings=readings, places="wheel_centre", progress=False)
        looked[:, row] = -span, span
        for column, figure in enumerate(_FIGURES):
            if figure == "hub_forward":
                each = slopes.wheel_centre.sel(xyz="x")
                values = swept.wheel_centre.sel(xyz="x").values
                small = _SMALL["mm"]
            else:
                each = slopes[figure]
                values = swept[figure].values
                small = _SMALL[READINGS[figure]["units"]]
            per = math.fsum(float(each.sel(input=one)) * share for one, share in pace.items())
            slope[row, column] = per if abs(per) > small else 0.0
            holds[:, row, column] = _range(moves, values - values[_STEPS], per, small)
    units = [READINGS[name]["units"] if name in READINGS else _HUB_FORWARD["units"] for name in _FIGURES]
    ways = [READINGS[name]["positive"] if name in READINGS else _HUB_FORWARD["positive"] for name in _FIGURES]
    dims = ("adjuster", "figure")
    dataset = xr.Dataset(
        {
            "slope": (
                dims,
                slope,
                {"long_name": "change per unit of the adjuster", "units": "figure_units/adjuster_units"},
            ),
            "holds_from": (
                dims,
                holds[0],
                {"long_name": "least move for which the slope holds to 2 %", "units": "adjuster_units"},
            ),
            "holds_to": (
                dims,
                holds[1],
                {"long_name": "greatest move for which the slope holds to 2 %", "units": "adjuster_units"},
            ),
            "looked_from": ("adjuster", looked[0], {"long_name": "least move looked at", "units": "adjuster_units"}),
            "looked_to": ("adjuster", looked[1], {"long_name": "greatest move looked at", "units": "adjuster_units"}),
        },
        {
            "adjuster": ("adjuster", names, {"long_name": "adjuster"}),
            "adjuster_units": ("adjuster", [SETTINGS[name]["units"] for name in names]),
            "adjuster_positive": ("adjuster", [SETTINGS[name]["positive"] for name in names]),
            "figure": ("figure", list(_FIGURES), {"long_name": "what changes"}),
            "figure_units": ("figure", units),
            "figure_positive": ("figure", ways),
            **{name: ((), value) for name, value in setting.items()},
            "travel": ((), float(travel)),
            "rack": ((), float(rack)),
            "roll": ((), float(roll)),
        },
        attrs={
            "title": f"{corner.name}, {corner.side} corner",
            "car": corner.name,
            "side": corner.side,
            "travel_at": travel_at,
            "held": TRAVEL_AT[travel_at],
            "along": along_text(
                {one: {by: per for by, per in rates.items() if by in names} for one, rates in follow.items()}
            ),
            "source": f"strutsweep {__version__}",
        },
    )
    return Card(dataset)


def _range(
    moves: npt.NDArray[np.float64], changes: npt.NDArray[np.float64], slope: float, small: float
) -> tuple[float, float]:
    """The moves on either side up to which ``slope * move`` tells the change to 2 %; infinite if always."""
    if not abs(slope) > small:
        return math.nan, math.nan
    ends = []
    for side in (-1.0, 1.0):
        chosen = np.flatnonzero(moves * side > 0.0)
        chosen = chosen[np.argsort(moves[chosen] * side)]
        with np.errstate(invalid="ignore"):
            missed = np.abs(changes[chosen] / (slope * moves[chosen]) - 1.0)
        bad = np.flatnonzero(~(missed <= HOLDS_TO))
        if not bad.size:
            ends.append(side * math.inf)
            continue
        first = int(bad[0])
        near, far = (
            (moves[chosen[first - 1]], missed[first - 1]) if first else (0.0, 0.0),
            (
                moves[chosen[first]],
                missed[first],
            ),
        )
        # The miss grows nearly in proportion to the move; out of reach, the last place before it is the end.
        share = (HOLDS_TO - near[1]) / (far[1] - near[1]) if math.isfinite(far[1]) else 0.0
        ends.append(float(near[0] + share * (far[0] - near[0])))
    return ends[0], ends[1]
