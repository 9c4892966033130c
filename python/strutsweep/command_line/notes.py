"""What stands under a table: what was held, what a sign means, what ran out, what to beware of."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import xarray as xr

from strutsweep.cautions import CAUTIONS, CAUTIONS_TITLE
from strutsweep.command_line.layout import NO_SUCH_POINT, reading_cells
from strutsweep.words import MOTIONS, SETTINGS, STATUSES, attributes

__all__ = [
    "CAUTIONS",
    "CAUTIONS_TITLE",
    "held",
    "no_such_point",
    "out_of_reach",
    "part",
    "positive_way",
    "reasons",
    "shown_name",
    "signs",
]


def shown_name(name: str) -> str:
    """The name of a reading or an input as a table shows it."""
    return name.replace("_", " ")


def held(dataset: xr.Dataset) -> str:
    """What was held while the rest of a dataset's inputs varied, in a sentence."""
    sides = [str(side) for side in dataset.side.values] if "side" in dataset.coords else [dataset.attrs["side"]]
    corner = "Both corners" if len(sides) > 1 else f"{sides[0].capitalize()} corner"
    motions = [f"{name} {_amount(name, dataset)}" for name in MOTIONS if _is_number(name, dataset)]
    changed = [
        f"{name.replace('_', '-')} {_amount(name, dataset)} (positive: {SETTINGS[name]['positive']})"
        for name in SETTINGS
        if _is_number(name, dataset) and float(dataset[name]) != 0.0
    ]
    some = changed or any(not _is_number(name, dataset) for name in SETTINGS)
    rest = f"all {'other ' if some else ''}settings as measured"
    return (
        f"{corner}. Travel is measured at the {dataset.attrs['travel_at']}: a changed setting holds"
        f" {dataset.attrs['held']}. Held: {', '.join([*motions, *changed, rest])}."
    )


def _is_number(name: str, dataset: xr.Dataset) -> bool:
    return name in dataset.coords and dataset[name].ndim == 0


def _amount(name: str, dataset: xr.Dataset) -> str:
    value = float(dataset[name]) + 0.0
    return f"{value:+g} {attributes(name)['units']}" if value else f"0 {attributes(name)['units']}"


def signs(names: Iterable[str]) -> dict[str, str]:
    """What a positive number of each reading or input means."""
    return {shown_name(name): attributes(name)["positive"] for name in names}


def positive_way(name: str) -> str:
    """Which way of a reading is positive, for a bracket."""
    way = attributes(name)["positive"]
    return way if way.startswith("never negative") else f"positive: {way}"


def part(status: str) -> str:
    """What ran out, in two words."""
    return shown_name(status)


def reasons(dataset: xr.Dataset) -> list[str]:
    """Why poses of a dataset are out of reach: a sentence for each reason that occurs."""
    codes = set(np.unique(dataset.status.values).tolist())
    return [str(words["reason"]) for name, words in STATUSES.items() if words["code"] in codes and words["code"] != 0]


def out_of_reach(dataset: xr.Dataset) -> list[str]:
    """How many poses of a dataset are out of reach and why, in sentences; none if all are reached."""
    status = dataset.status.values
    count = int(np.count_nonzero(status))
    if not count:
        return []
    return [
        f"{count} of {status.size} poses {'is' if count == 1 else 'are'} out of reach: {'; '.join(reasons(dataset))}."
    ]


def no_such_point(dataset: xr.Dataset) -> list[str]:
    """What the word for no number means, if a table of this dataset uses it."""
    reached = dataset.status.values == 0
    found = any(
        NO_SUCH_POINT in reading_cells(array.values[reached], array.attrs["units"])
        for name, array in dataset.data_vars.items()
        if name != "status"
    )
    return [f"{NO_SUCH_POINT}: lines run parallel there, and do not meet within a kilometre."] if found else []
