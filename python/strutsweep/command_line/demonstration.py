"""The command ``demo``: everything, for an invented car, without a file."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Annotated, Any, Final

import numpy as np
import numpy.typing as npt
import typer
import xarray as xr

from strutsweep._core import Axle, demos
from strutsweep.command_line.arguments import DEMO_PREFIX, Side, demo_car, example_text, help_of
from strutsweep.command_line.delivery import print_cautions, save_plot
from strutsweep.command_line.endings import say
from strutsweep.command_line.layout import Printer
from strutsweep.command_line.new_car import car_file_text
from strutsweep.command_line.one_pose import print_static, static_dataset
from strutsweep.command_line.ranges import limits_of
from strutsweep.command_line.records import write, writing
from strutsweep.sweeping import sweep
from strutsweep.words import READINGS

__all__ = ["add_to"]

EXAMPLES: Final = (
    "strutsweep demo",
    "strutsweep demo --car demo:hillclimb_saloon --folder saloon",
)

MOUNTS: Final = 101
TRAVELS: Final = 41
RACKS: Final = 53

# Of 101 positions every fifth, so that a table of them can still be read.
READABLE: Final = 5

CURVES: Final = ("camber", "toe", "caster", "camber_gain", "bump_steer", "roll_centre_height")
STEERED: Final = ("toe", "camber", "caster", "scrub_radius", "mechanical_trail", "tie_rod_margin")
MAPPED: Final = ("camber", "caster", "kingpin_inclination", "toe", "scrub_radius", "mechanical_trail")
EVERYWHERE: Final = (
    "camber",
    "toe",
    "caster",
    "kingpin_inclination",
    "scrub_radius",
    "mechanical_trail",
    "camber_gain",
    "bump_steer",
)


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command("demo", help=help_of(demo), epilog=example_text(*EXAMPLES))(demo)


def demo(
    car: Annotated[
        str, typer.Option("--car", metavar="NAME", help=f"One of {', '.join(DEMO_PREFIX + name for name in demos())}.")
    ] = "demo:gravel_hatch",
    folder: Annotated[
        Path, typer.Option("--folder", metavar="PATH", help="Where to write plots and data; made if need be.")
    ] = Path("strutsweep-demo"),
) -> None:
    """What can this program do? A tour that needs no file.

    Shows the readings of an invented car in deg and mm, each with its positive way; sweeps 101 x 101 positions of the
    strut's top mount over 41 wheel travels; and writes plots and data to a folder, with a list of what each file shows.
    Files of an earlier tour in that folder are replaced.
    """
    axle = demo_car(car)
    name = car.removeprefix(DEMO_PREFIX)
    printer = Printer()
    printer.notes(f"{axle.name} is an invented car: no real one, and no number here was measured on one.")
    printer.gap()
    pose = static_dataset(axle, list(Side), list(READINGS))
    print_static(printer, axle, pose, pose)
    printer.gap()

    swept = _sweep_everything(printer, axle)
    say("writing plots and data ...")
    writing(folder, lambda: folder.mkdir(parents=True, exist_ok=True))
    files = _write_files(axle, swept, folder, name)
    printer.gap()
    printer.listing(f"Written to {folder}", files)
    print_cautions(printer)
    printer.gap()
    printer.listing(
        "How to go on",
        {
            f"strutsweep bump demo:{name}": "one curve after another; see strutsweep --help",
            "strutsweep new-car my_car.toml": "a car file to put your own numbers in",
            "strutsweep static my_car.toml": "what your car reads",
        },
    )


def _sweep_everything(printer: Printer, car: Axle) -> xr.Dataset:
    """All readings of the left corner at every mount position and every travel, with a word on how long it took."""
    reach_in, reach_back = (limits_of(car, name)[1].taken for name in ("mount_in", "mount_back"))
    droop, bump = (limit.taken for limit in limits_of(car, "travel"))
    travel = np.round(_through_zero(droop, bump, TRAVELS), 1)
    start = time.perf_counter()
    swept = sweep(
        car.left,
        travel=travel,
        mount_in=_through_zero(reach_in, reach_in, MOUNTS),
        mount_back=_through_zero(reach_back, reach_back, MOUNTS),
        progress=False,
    )
    seconds = time.perf_counter() - start
    poses = swept.status.size
    reached = int((swept.status == 0).sum())
    printer.notes(
        f"Swept {MOUNTS} x {MOUNTS} = {MOUNTS * MOUNTS:,} positions of the top mount (mount-in {-reach_in:g} to"
        f" {reach_in:g} mm, mount-back {-reach_back:g} to {reach_back:g} mm) over {TRAVELS} travels ({-droop:g} to"
        f" {bump:g} mm): {poses:,} poses, {len(READINGS)} readings each, in {seconds:.2f} s. Reached: {reached:,}."
    )
    return swept


def _through_zero(below: float, above: float, count: int) -> npt.NDArray[np.float64]:
    """Values from ``-below`` to ``above``, evenly spaced on either side of zero, which is among them."""
    down = round((count - 1) * below / (below + above))
    return np.concatenate([np.linspace(-below, 0.0, down + 1)[:-1], np.linspace(0.0, above, count - down)])


def _write_files(car: Axle, swept: xr.Dataset, folder: Path, name: str) -> dict[str, str]:
    """Write plots and data; gives what each file shows."""
    from strutsweep import plots

    corner = car.left
    droop, bump = (limit.taken for limit in limits_of(car, "travel"))
    stroke = limits_of(car, "rack")[1].taken
    reach_in = limits_of(car, "mount_in")[1].taken
    smooth_travel = _through_zero(droop, bump, 3 * TRAVELS)
    curves: Any = sweep(corner, travel=smooth_travel, mount_in=[-reach_in, 0.0, reach_in], readings=CURVES)
    racks: Any = sweep(corner, rack=np.linspace(-stroke, stroke, RACKS))
    at_design = swept.sel(travel=0.0)
    over_travel = swept.sel(mount_in=0.0, mount_back=0.0)
    every_fifth = at_design[list(MAPPED) + ["status"]].isel(
        mount_in=slice(None, None, READABLE), mount_back=slice(None, None, READABLE)
    )

    figures = {
        "travel.png": (
            plots.against_travel(curves, readings=CURVES),
            "camber, toe and more over wheel travel, at three positions of the top mount",
        ),
        "rack.png": (plots.against_rack(racks, readings=STEERED), "toe, camber and more over rack displacement"),
        "mount_map.png": (
            plots.mount_map(at_design, readings=MAPPED),
            "what moving the top mount does to camber, caster, toe, scrub radius and more, at design height",
        ),
        "three_views.png": (plots.three_views(corner), "the corner from the front, the side and above"),
    }
    data = {
        "travel.csv": (over_travel, f"all readings at {TRAVELS} travels, top mount as drawn"),
        "rack.csv": (racks, f"all readings at {RACKS} rack displacements"),
        "mount_map.csv": (every_fifth, "six readings at 21 x 21 positions of the top mount, design height"),
        "mount_map.nc": (at_design, f"all readings at all {MOUNTS} x {MOUNTS} positions, design height (NetCDF)"),
        "mount_and_travel.nc": (
            swept[[*EVERYWHERE, "status"]],
            f"eight readings at all positions and all {TRAVELS} travels (NetCDF)",
        ),
    }
    shows = {}
    for file, (figure, what) in figures.items():
        save_plot(figure, folder / file)
        shows[file] = what
    for file, (dataset, what) in data.items():
        write(dataset, folder / file)
        shows[file] = what
    text = car_file_text(car, name=car.name, note="Invented for demonstration: no real car.")
    path = folder / f"{name}.toml"
    writing(path, lambda: path.write_text(text, encoding="utf-8", newline=""))
    shows[path.name] = "the car itself: a commented car file, to try changes on"
    return shows
