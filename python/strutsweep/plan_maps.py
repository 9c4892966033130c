"""Plans over whole grids of wanted readings, in parallel: maps of settings, and of what can be reached."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from strutsweep._core import Axle, Corner
from strutsweep._inputs import TravelAt, check_corner, grid_of, labelled, spread, thread_count
from strutsweep._wanting import SIDES, Along, Free, Problem, TieRod, Wanted, along_text, going_along
from strutsweep.errors import InputError
from strutsweep.sweeping import sweep
from strutsweep.words import MOTIONS, OUTCOMES, READINGS, SETTINGS, attributes

__all__ = ["plan_map"]


def plan_map(
    car: Corner | Axle,
    want: Wanted | Mapping[str, Wanted],
    free: Free,
    *,
    start: Mapping[str, float] | Mapping[str, Mapping[str, float]] | None = None,
    travel: float = 0.0,
    rack: float = 0.0,
    roll: float = 0.0,
    travel_at: TravelAt = "ground",
    tie_rod: TieRod | None = None,
    limits: Mapping[str, float | None] | None = None,
    efforts: Mapping[str, float] | None = None,
    along: Along | None = None,
    readings: Iterable[str] | str | None = None,
    threads: int | None = None,
) -> xr.Dataset:
    """Settings over any grid of wanted readings, in parallel, and which of them can be reached.

    As `plan`, with arrays among the wanted values: a one-dimensional array becomes a dimension ``wanted_`` and the
    reading's name, a `DataArray` keeps its own dimensions.

    Parameters
    ----------
    car : Corner or Axle
        One corner, or both of a car: with a dimension ``side`` then, "left" and "right".
    want : mapping of str to number or array, or sequence of Want
        Readings and their values, in mm and deg. For a car alike on both sides, or per side, or arrays with a
        dimension ``side``.
    free, start, travel, rack, roll, travel_at, tie_rod, limits, efforts, along
        As in `plan`: limits are those of the car file unless given; a corner by itself knows none.
    readings : str or iterable of str, optional
        What the settings read besides what is wanted; angles of the wheel and the steering axis unless given.
    threads : int, optional
        All of the machine's unless given.

    Returns
    -------
    xarray.Dataset
        Per free adjuster, and what goes along with it, its value; per reading what a forward sweep of the settings
        reads; ``residual`` along the dimension ``want``, and ``before``, what is read at the start; ``outcome`` with
        ``flag_values`` and ``flag_meanings``, 0 where everything is met; ``at_limit`` along ``adjuster``, -1 at its
        least and +1 at its greatest value. Where not everything can be met the setting is the nearest one: mask with
        ``ds.outcome == 0``.

    Raises
    ------
    InputError, ReachError
        As `plan`.

    Notes
    -----
    Each plan starts from the present setting by itself: the same bits come out for any number of threads.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> car = ss.demo("gravel_hatch")
    >>> wanted = {"camber": np.linspace(-2.5, 0.5, 7), "caster": np.linspace(2.0, 4.0, 5)}
    >>> ds = ss.plan_map(car, wanted, ["mount_in", "mount_back"])
    >>> ds.mount_in.dims, int((ds.outcome.sel(side="left") == 0).sum())
    (('side', 'wanted_camber', 'wanted_caster'), 20)
    """
    asked: dict[str, Any] = {
        "want": want,
        "free": free,
        "start": start,
        "motion": (travel, rack, roll),
        "travel_at": travel_at,
        "tie_rod": tie_rod,
        "limits": limits,
        "efforts": efforts,
        "along": along,
    }
    if not isinstance(car, Axle):
        check_corner("plan_map", car)
        return _mapped(Problem.of_corner(car, **asked), readings, threads)
    problems = [Problem.of_side(car, side, **asked) for side in SIDES]
    if problems[0].free != problems[1].free or len(problems[0].wants) != len(problems[1].wants):
        raise InputError(
            "a map of a car needs the same adjusters and as many wanted readings on both sides: map its corners one by"
            " one",
            name="free",
            value=(problems[0].free, problems[1].free),
        )
    left, right = (_mapped(problem, readings, threads) for problem in problems)
    both = xr.concat(
        [left, right],
        dim=xr.DataArray(list(SIDES), dims="side", name="side"),
        data_vars="all",
        coords="different",
        compat="equals",
        join="exact",
        combine_attrs="drop_conflicts",
    )
    return both.assign_attrs(title=f"{car.name}, left and right corner: planned settings", side="left and right")


def _mapped(problem: Problem, readings: Iterable[str] | str | None, threads: int | None) -> xr.Dataset:
    """The map of one corner."""
    values: dict[str, xr.DataArray] = {}
    for number, wanted in enumerate(problem.wants):
        name = f"wanted_{wanted.reading}"
        array = labelled(name, wanted.value)
        if array.dims == (name,) and name not in array.coords:
            # An array of its own dimension labels it.
            array = array.assign_coords({name: array.values})
        if name in array.dims and name in values:
            message = f"{wanted.reading} is wanted as plain arrays in two motions: give DataArrays with dimensions"
            raise InputError(message, name=wanted.reading, value=array.shape)
        values[name if name not in values else f"{name}_{number}"] = array
    sizes = grid_of(values)
    taken = {*SETTINGS, *READINGS, "outcome", "at_limit", "residual", "want", "adjuster", "status"}
    for dim in sizes:
        if dim in taken:
            raise InputError(f"a dimension is named {dim!r}, which is the name of a result", name="want", value=dim)
    shape = tuple(sizes.values())
    columns = [np.broadcast_to(spread(array, sizes), shape).ravel() for array in values.values()]
    table = np.column_stack(columns) if columns else np.empty((1, 0))
    found = problem.solve(np.ascontiguousarray(table), 0 if threads is None else thread_count("threads", threads))
    return _map_dataset(problem, values, sizes, found, readings, threads)


_MAP_READINGS = ("camber", "toe", "caster", "kingpin_inclination", "scrub_radius", "mechanical_trail", "half_track")


def _map_dataset(
    problem: Problem,
    values: Mapping[str, xr.DataArray],
    sizes: Mapping[str, int],
    found: Mapping[str, npt.NDArray[Any]],
    readings: Iterable[str] | str | None,
    threads: int | None,
) -> xr.Dataset:
    dims = tuple(sizes)
    shape = tuple(sizes.values())
    coords: dict[str, Any] = {}
    for array in values.values():
        for key, coord in array.coords.items():
            coords.setdefault(str(key), coord.drop_vars([other for other in coord.coords if other != key]))
    settings = {
        name: xr.DataArray(column.reshape(shape), dims=dims, coords={dim: coords[dim] for dim in dims if dim in coords})
        for name, column in zip(SETTINGS, found["setting"].T, strict=True)
    }
    wanted = list(dict.fromkeys(want.reading for want in problem.wants))
    names = list(dict.fromkeys([*wanted, *_MAP_READINGS])) if readings is None else readings
    moved = list(dict.fromkeys([*problem.free, *problem.along]))
    given: dict[str, Any] = {name: settings[name] if name in moved else problem.start[name] for name in SETTINGS}
    given.update(zip(MOTIONS, problem.motion, strict=True))
    swept = sweep(
        problem.corner,
        travel_at=problem.travel_at,
        readings=names,
        threads=threads,
        progress=False,
        **given,
    )
    variables: dict[str, Any] = {name: settings[name].assign_attrs(attributes(name)) for name in moved}
    for name in swept.data_vars:
        variables[str(name)] = swept[name].drop_vars([other for other in SETTINGS if other in swept[name].coords])
    labels = [want.label for want in problem.wants]
    variables["residual"] = (
        ("want", *dims),
        found["residual"].T.reshape(len(labels), *shape),
        {"long_name": "what is read less what is wanted", "units": "unit of the reading"},
    )
    variables["before"] = (
        "want",
        found["before"],
        {"long_name": "what is read at the start", "units": "unit of the reading"},
    )
    variables["outcome"] = (
        dims,
        found["outcome"].reshape(shape),
        {
            "long_name": "how the plan ended",
            "units": "1",
            "flag_values": np.array([words["code"] for words in OUTCOMES.values()], dtype=np.int8),
            "flag_meanings": " ".join(OUTCOMES),
            "comment": "; ".join(f"{name}: {words['reason']}" for name, words in OUTCOMES.items()),
        },
    )
    variables["at_limit"] = (
        ("adjuster", *dims),
        found["at_limit"].T.reshape(len(problem.free), *shape),
        {
            "long_name": "limit at which an adjuster stands",
            "units": "1",
            "flag_values": np.array([-1, 0, 1], dtype=np.int8),
            "flag_meanings": "least between most",
        },
    )
    coords["want"] = ("want", labels, {"long_name": "wanted reading"})
    coords["adjuster"] = ("adjuster", problem.free, {"long_name": "free adjuster"})
    for name, array in values.items():
        if not array.ndim:
            words = attributes(name.removeprefix("wanted_")) if name.removeprefix("wanted_") in READINGS else {}
            coords[name] = xr.Variable((), array.values, words)
    for dim in dims:
        reading = dim.removeprefix("wanted_")
        if reading in READINGS and dim in coords:
            words = {**attributes(reading), "long_name": f"wanted {READINGS[reading]['long_name']}"}
            coords[dim] = xr.Variable((dim,), coords[dim].values, words)
    result = xr.Dataset(variables, coords, attrs=dict(swept.attrs))
    for name in (*MOTIONS, *SETTINGS):
        if name in swept.coords and swept[name].ndim == 0:
            result = result.assign_coords({name: swept[name]})
    return result.assign_attrs(
        title=f"{problem.corner.name}, {problem.corner.side} corner: planned settings",
        tie_rod=problem.tie_rod,
        along=along_text(going_along(problem.along, problem.free)),
        limits="; ".join(
            f"{name}{' by itself' * (name in problem.along)} {least:+g} to {most:+g} {SETTINGS[name]['units']}"
            f" ({problem.limits_from[name]})"
            for name, (least, most) in problem.limits.items()
        ),
    )
