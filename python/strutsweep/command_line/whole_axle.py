"""The commands about both wheels at once: ``lock``, ``lean``, ``spring``, ``gauge``, ``cure`` and ``space``."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Annotated, Any, Final

import numpy as np
import numpy.typing as npt
import typer
import xarray as xr

from strutsweep._core import Axle, rack_sense
from strutsweep._within import above_zero
from strutsweep.command_line.arguments import (
    CarName,
    FormatChoice,
    OutputPath,
    PlotPath,
    RackValue,
    RollValue,
    Side,
    SideChoice,
    TravelValue,
    corner_of,
    example_text,
    help_of,
    load_car,
    takes_settings,
)
from strutsweep.command_line.delivery import check_paths, deliver, print_cautions, save_plot
from strutsweep.command_line.endings import say
from strutsweep.command_line.layout import NO_SUCH_POINT, Column, Printer, Sheet
from strutsweep.command_line.notes import held, out_of_reach
from strutsweep.command_line.ranges import beyond, limits_of
from strutsweep.command_line.records import check_plot_path, writing
from strutsweep.cures import bump_steer_cure
from strutsweep.errors import FileError, InputError, ReachError
from strutsweep.gauges import bump_steer_plate, caster_gauge, caster_sweep, toe_as_length
from strutsweep.rolling import roll_rates
from strutsweep.shares import camber_shares
from strutsweep.springs import GRAVITY, ride_height, side_force, spring_curves
from strutsweep.steering import Lock, largest_lock, least_margin, steering_curves
from strutsweep.sweeping import sweep
from strutsweep.words import attributes

__all__ = ["add_to"]

LOCK_EXAMPLES: Final = (
    "strutsweep lock demo:gravel_hatch",
    "strutsweep lock demo:hillclimb_saloon --travel 30 --clearance 8",
    "strutsweep lock demo:gravel_hatch --plot turn.png --output steer.csv",
)
LEAN_EXAMPLES: Final = (
    "strutsweep lean demo:gravel_hatch",
    "strutsweep lean demo:hillclimb_saloon --most 3 --plot path.png",
)
SPRING_EXAMPLES: Final = (
    "strutsweep spring demo:gravel_hatch",
    "strutsweep spring demo:hillclimb_saloon --load 3300 --preload 5",
)
GAUGE_EXAMPLES: Final = ("strutsweep gauge demo:gravel_hatch", "strutsweep gauge demo:hillclimb_saloon --turn 10")
CURE_EXAMPLES: Final = (
    "strutsweep cure demo:gravel_hatch --mount-back 10",
    "strutsweep cure demo:hillclimb_saloon --ball-joint-down 15 --aim flattest",
)
SPACE_EXAMPLES: Final = (
    "strutsweep space demo:gravel_hatch axle.html",
    "strutsweep space demo:hillclimb_saloon saloon.html --force",
)

STEER_READINGS: Final = ("wheel_steer", "camber", "caster", "mechanical_trail", "scrub_radius", "tie_rod_margin")
ROLL_READINGS: Final = ("camber", "camber_to_body", "wheel_steer", "half_track")

_TOE_OUT_AT_DEG: Final = 20.0
"""Angle of the inner wheel at which workshops quote toe-out on turns."""
_PAST_STOP_MM: Final = 1e-6
"""A strut at its stop is not past it: poses are met to 1e-9 mm."""
_STEPS_MM: Final = (5.0, 10.0, 20.0, 50.0, 100.0, 500.0, 5000.0)
"""Steps of a table over travel: the first that makes no more rows than the next figure, and both ends."""
_MOST_STEPS: Final = 10
_DECIMALS: Final = {"deg": 2, "mm": 1, "1": 3, "%": 0, "N": 0, "N/mm": 2, "Hz": 2}

Most = Annotated[float, typer.Option("--most", metavar="DEG", help="Greatest roll either way.")]
Clearance = Annotated[
    float, typer.Option("--clearance", metavar="MM", show_default=False, help="Room that the tyre must keep.")
]


def add_to(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("lock", help=help_of(lock), epilog=example_text(*LOCK_EXAMPLES))(lock)
    app.command("lean", help=help_of(lean), epilog=example_text(*LEAN_EXAMPLES))(lean)
    app.command("spring", help=help_of(spring), epilog=example_text(*SPRING_EXAMPLES))(spring)
    app.command("gauge", help=help_of(gauge), epilog=example_text(*GAUGE_EXAMPLES))(gauge)
    app.command("cure", help=help_of(cure), epilog=example_text(*CURE_EXAMPLES))(cure)
    app.command("space", help=help_of(space), epilog=example_text(*SPACE_EXAMPLES))(space)


def _cells(values: Iterable[float], unit: str) -> list[str]:
    decimals = _DECIMALS[unit]
    return [NO_SUCH_POINT if not np.isfinite(v) else f"{round(v, decimals) + 0.0:.{decimals}f}" for v in values]


def _shown(unit: str) -> str:
    return "-" if unit == "1" else unit


def _column(array: xr.DataArray, heading: Sequence[str]) -> Column:
    unit = array.attrs["units"]
    return Column([*heading, _shown(unit)], _cells(array.values.tolist(), unit))


def _both_sides(dataset: xr.Dataset, names: Sequence[str]) -> list[Column]:
    return [
        _column(dataset[name].sel(side=side), [*name.split("_"), side]) for name in names for side in ("left", "right")
    ]


def _refused(dataset: xr.Dataset) -> dict[int, str]:
    """Rows in which a wheel is out of reach."""
    lost = (dataset.status != 0).any("side").values
    return {int(row): "out of reach" for row in np.flatnonzero(lost)}


def lock(
    car: CarName,
    clearance: Clearance = 0.0,
    format: FormatChoice = None,
    output: OutputPath = None,
    plot: PlotPath = None,
    *,
    travel: TravelValue = 0.0,
    roll: RollValue = 0.0,
) -> None:
    """How far do the wheels steer, what stops them, and how true do they roll?

    The largest safe lock to either side and what limits it, as far as the car file tells; then both wheels over the
    rack: steer to the left positive, Ackermann by angle and by cotangents (100 % is true), turning circle, camber,
    trail and scrub; and jacking, what lock alone does to the body. --plot draws the car from above at the largest lock
    to the left.
    """
    check_paths(output, plot)
    axle = load_car(car)
    locks = largest_lock(axle, travel=travel, roll=roll, clearance=clearance)
    most = min(abs(found.rack) for found in locks)
    curves = steering_curves(axle, rack=np.linspace(-most, most, 13), travel=travel, roll=roll)
    at_twenty = sweep(axle, inner_steer=[_TOE_OUT_AT_DEG, -_TOE_OUT_AT_DEG], travel=travel, roll=roll)

    def print_table(printer: Printer) -> None:
        printer.heading(f"{axle.name}: largest lock")
        printer.notes(*(str(found) for found in locks))
        for found in locks:
            others = "; ".join(f"{limit.name} ({limit.where}) at {limit.rack:+.1f} mm" for limit in found.limits)
            printer.notes(f"To the {found.turn}: {others}.")
        if locks[0].not_known:
            printer.notes(f"Not looked at, as the car file lacks it: {', '.join(locks[0].not_known)}.")
        if axle.rack["mm_per_turn"] is None:
            printer.notes("No turns and no steering ratio, as the car file lacks rack.mm_per_turn.")
        if axle.dimensions["wheelbase"] is None:
            printer.notes("No Ackermann and no turning circle, as the car file lacks axle.wheelbase.")
        is_given = axle.limits["tie_rod_margin"] is not None
        printer.notes(
            f"Over-centre margin: the sine of the tie rod's angle to its arm, here at least {least_margin(axle):g}"
            f" ({'limits.tie_rod_margin' if is_given else 'taken: the car file has none'})."
        )
        printer.gap()
        whole = [
            _column(curves[name], name.split("_"))
            for name in ("turns", "mean_steer", "ackermann_by_angle", "ackermann_by_cotangent", "steering_ratio")
        ]
        circle = Column(["turning", "circle", "m"], _metres(curves.turning_circle.values))
        title = f"{axle.name}: both wheels over the rack"
        columns = [*whole, circle, *_both_sides(curves, STEER_READINGS)]
        printer.sheet(Sheet(title, Column(["rack", "mm"], _cells(curves.rack.values, "mm")), columns, _refused(curves)))
        printer.notes(
            _toe_out(at_twenty, locks),
            "Ackermann by angle: toe-out as a share of what the true condition asks; by cotangents: the cotangents'"
            " difference as a share of kingpin track over wheelbase. None within 1 deg of straight ahead.",
            *(_jacked(curves.isel(rack=end), turn) for end, turn in _ends(axle)),
            "Positive: rack, turns, mean steer and wheel steer to the left"
            + "".join(f"; {name.replace('_', ' ')}: {attributes(name)['positive']}" for name in STEER_READINGS[1:])
            + ".",
            held(curves),
            *_ground(curves),
            *out_of_reach(curves),
            *beyond(axle, {"travel": travel}),
            *_beyond_stops(axle, curves),
        )

    def draw() -> Any:
        from strutsweep import plots

        return plots.turn_view(axle, rack=locks[0].rack * (1.0 - 1e-9), travel=travel, roll=roll)

    deliver(curves, format=format, output=output, plot=plot, print_table=print_table, draw=draw)


def _toe_out(at_twenty: xr.Dataset, locks: Sequence[Lock]) -> str:
    """Toe-out on turns with the inner wheel at 20 deg, or why there is none."""
    said = []
    for found, row in zip(locks, (0, 1), strict=True):
        value = float(at_twenty.toe_out_on_turns[row])
        if found.inner_steer < _TOE_OUT_AT_DEG:
            said.append(f"none to the {found.turn}, as lock comes first, at {found.inner_steer:.1f} deg")
        elif not np.isfinite(value):
            said.append(f"none to the {found.turn}, as no rack gives that angle uniquely")
        else:
            said.append(f"{value:.2f} deg to the {found.turn}")
    return f"Toe-out on turns with the inner wheel at {_TOE_OUT_AT_DEG:g} deg: {'; '.join(said)}."


def _ground(dataset: xr.Dataset) -> list[str]:
    """That the two wheels do not stand on one level, in a sentence; none where they do."""
    return [dataset.attrs["ground"]] if "ground" in dataset.attrs else []


def _beyond_stops(car: Axle, dataset: xr.Dataset) -> list[str]:
    """Which wheels go beyond the stops of the car file as the body leans or the wheels steer, in sentences.

    A stop is met by the strut: its length at that travel, without settings and roll, tells.
    """
    said = []
    for limit, way in zip(limits_of(car, "travel"), (-1.0, 1.0), strict=True):
        for side in ("left", "right"):
            if limit.value is None:
                continue
            try:
                stop = corner_of(car, Side(side)).solve(travel=way * limit.value).strut_compression
            except ReachError:
                continue
            past = way * (dataset.strut_compression.sel(side=side) - stop) > _PAST_STOP_MM
            if bool(past.any()):
                length = "shorter" if way > 0.0 else "longer"
                said.append(
                    f"{side.capitalize()} wheel: beyond {limit.field} = {limit.value:g} mm of the car file in"
                    f" {int(past.sum())} of {past.size} poses: the strut is {length} than at that travel."
                )
    return said


def _ends(car: Axle) -> list[tuple[int, str]]:
    """Rows of curves over the rack at which the wheels stand farthest to the left and to the right."""
    return [(-1, "left"), (0, "right")] if rack_sense(car) > 0.0 else [(0, "left"), (-1, "right")]


def _jacked(at: xr.Dataset, turn: str) -> str:
    """What lock does to the body, in a sentence."""
    rise, lean = float(at.body_rise), float(at.body_lean)
    if not np.isfinite(rise):
        return f"Jacking, steered to the {turn}: none, with the struts' lengths held that pose is out of reach."
    return (
        f"Jacking, steered to the {turn} with the struts' lengths held: the body"
        f" {'rises' if rise >= 0.0 else 'sinks'} {abs(rise):.1f} mm at the centre line and leans {abs(lean):.2f} deg to"
        f" the {'right' if lean >= 0.0 else 'left'}."
    )


def _metres(values: Any) -> list[str]:
    return [NO_SUCH_POINT if not np.isfinite(v) else f"{v / 1000.0:.2f}" for v in values]


@takes_settings()
def lean(
    car: CarName,
    most: Most = 4.0,
    format: FormatChoice = None,
    output: OutputPath = None,
    plot: PlotPath = None,
    *,
    settings: dict[str, float],
    travel: TravelValue = 0.0,
    rack: RackValue = 0.0,
) -> None:
    """What does the axle do as the body rolls?

    Both wheels kept on the ground: camber to the ground and to the body, roll steer, and the roll centre's height and
    shift to the left. A positive roll, in deg, leans the body to the right, so that the right wheel is the outer one.
    At the greatest roll, to the outside of the turn that the rack makes, the outer wheel's camber is taken apart.
    --plot draws the path of the roll centre.
    """
    check_paths(output, plot)
    most = above_zero("most", most, "deg", 45.0)
    axle = load_car(car)
    inputs: dict[str, Any] = {"travel": travel, "rack": rack, **settings}
    rolls = sweep(axle, roll=np.linspace(-most, most, 9), **inputs)

    def print_table(printer: Printer) -> None:
        centre = [
            _column(rolls.axle_roll_centre_height, ["roll", "centre", "height"]),
            _column(rolls.axle_roll_centre_shift, ["roll", "centre", "shift"]),
        ]
        printer.sheet(
            Sheet(
                f"{axle.name}: both wheels as the body rolls",
                Column(["roll", "deg"], _cells(rolls["roll"].values, "deg")),
                [*_both_sides(rolls, ROLL_READINGS), *centre],
                _refused(rolls),
            )
        )
        rates = roll_rates(axle, **inputs)
        printer.notes(*(_per_roll(rates.sel(side=side), side) for side in ("left", "right")))
        printer.notes(*_taken_apart(axle, rolls, most, inputs))
        missing = int(rolls.roll_centre_status.sum())
        printer.notes(
            *(
                f"{name.replace('_', ' ')}: positive: {attributes(name)['positive']}."
                for name in (*ROLL_READINGS, "roll")
            ),
            "Roll-centre shift: positive to the left of the car's centre line.",
            *(
                [f"{missing} of {rolls.sizes['roll']} places have no roll centre: the lines run parallel."]
                if missing
                else []
            ),
            held(rolls),
            *_ground(rolls),
            *out_of_reach(rolls),
            *beyond(axle, inputs),
            *_beyond_stops(axle, rolls),
        )

    def draw() -> Any:
        from strutsweep import plots

        return plots.roll_centre_path(sweep(axle, roll=np.linspace(-most, most, 41), **inputs))

    deliver(rolls, format=format, output=output, plot=plot, print_table=print_table, draw=draw)


def _per_roll(rates: xr.Dataset, side: str) -> str:
    """What a degree of roll does to a wheel, in a sentence."""
    if not np.isfinite(float(rates.camber_per_roll)):
        return f"Level, {side} wheel: no rates, that pose is out of reach."
    return (
        f"Level, {side} wheel: {_signed(float(rates.camber_per_roll), 3)} deg of camber to the ground per deg of roll,"
        f" {_signed(float(rates.camber_to_body_per_roll), 3)} to the body, roll steer"
        f" {_signed(float(rates.roll_steer), 4)} deg per deg, half track"
        f" {_signed(float(rates.track_per_roll), 2)} mm per deg; each as the body leans to the right."
    )


def _taken_apart(car: Axle, rolls: xr.Dataset, most: float, inputs: dict[str, Any]) -> list[str]:
    """The outer wheel's camber at the greatest roll as a sum of parts; none where that pose is out of reach."""
    outward = most if float(rolls.mean_steer.sel(roll=0.0)) >= 0.0 else -most
    try:
        shares = camber_shares(car, roll=outward, **inputs)
    except ReachError:
        return []
    return [f"At {outward:+g} deg of roll, {shares}."]


def spring(
    car: CarName,
    load: Annotated[
        float | None,
        typer.Option(
            "--load", metavar="N", show_default=False, help="Force of the ground on one wheel, as scales show it."
        ),
    ] = None,
    preload: Annotated[
        float, typer.Option("--preload", metavar="MM", show_default=False, help="Lower spring seat screwed up.")
    ] = 0.0,
    side: SideChoice = Side.LEFT,
) -> None:
    """What does the spring do at the wheel, and to the damper rod?

    Spring force, wheel load, motion ratio and wheel rate from droop to bump; the ride height under a load; the side
    force on the damper rod from a free body, and how far the spring's lower end would have to move to cancel it. Forces
    in N, lengths in mm, angles in deg; a positive travel is bump.
    """
    axle = load_car(car)
    low, high = (limit.taken for limit in limits_of(axle, "travel"))
    # Everything is worked out before anything is printed: what is refused leaves no half of an answer.
    curves = spring_curves(axle, travel=_round_travels(low, high), preload=preload).sel(side=side.value)
    weight = load if load is not None else axle.dimensions["wheel_load"]
    mass = axle.dimensions["unsprung_mass"]
    said = []
    if load is not None and mass is None:
        raise InputError("load: the car file lacks axle.unsprung_mass to go with it", name="load", value=load)
    if weight is not None and mass is not None:
        height = ride_height(axle, weight, side=side.value, preload=preload)
        said.append(
            f"Under {weight:.0f} N at the ground the body sits {abs(height):.1f} mm"
            f" {'below' if height >= 0.0 else 'above'} design height (travel {height + 0.0:+.1f} mm)."
        )
        carried = None if load is None else load - mass * GRAVITY
        said.append(f"At design height, {side_force(axle, side=side.value, load=carried)}.")
    printer = Printer()
    names = ("spring_force", "wheel_load", "motion_ratio", "wheel_rate", "rate_by_geometry", "ride_frequency")
    printer.sheet(
        Sheet(
            f"{axle.name}, {side.value} wheel: the spring over travel",
            Column(["travel", "mm"], _cells(curves.travel.values, "mm")),
            [_column(curves[name], name.split("_")) for name in names],
            {int(row): "out of reach" for row in np.flatnonzero(curves.status.values)},
        )
    )
    printer.notes(
        *said,
        f"Held: travel of both wheels measured at the ground, straight ahead, upright, settings as measured; lower seat"
        f" {preload + 0.0:+g} mm up.",
        "Wheel load is what the spring carries: the unsprung weight is left out. The bump stop is not in it.",
    )
    print_cautions(printer)


def gauge(
    car: CarName,
    turn: Annotated[
        float, typer.Option("--turn", metavar="DEG", help="How far the turntable is turned either way.")
    ] = 20.0,
    diameter: Annotated[
        float, typer.Option("--diameter", metavar="MM", help="Rim diameter, or length of a toe plate.")
    ] = 431.8,
    spacing: Annotated[
        float, typer.Option("--spacing", metavar="MM", help="Distance of the two dials on a bump-steer plate.")
    ] = 300.0,
) -> None:
    """What will the workshop's gauges show, and how far is that from the truth?

    A caster sweep by each common formula, on this corner and on a wheel that turns about a fixed axis; kingpin
    inclination with the brake locked; toe as a length; the two dials on a bump-steer plate as the wheel goes up and
    down. Tells the rack that either turn takes, and where that is beyond
    the car file's stroke. Angles in deg, lengths in mm; a positive caster leans the top of the steering axis rearward,
    a positive toe is toe-in, and out means that the front of the wheel points outboard.
    """
    axle = load_car(car)
    ways = {
        "by_sines": "caster by sines",
        "by_practice": "caster by practice",
        "by_exact_formula": "caster, exact formula",
    }
    # Everything is worked out before anything is printed: what is refused leaves no half of an answer.
    corners = {side.value: corner_of(axle, side) for side in Side}
    gauges = {side: caster_sweep(corner, turn=turn) for side, corner in corners.items()}
    lengths = {side: toe_as_length(found.toe, diameter) for side, found in gauges.items()}
    low, high = (limit.taken for limit in limits_of(axle, "travel"))
    travels = _round_travels(low, high)
    plates = {side: bump_steer_plate(corner, travels, spacing=spacing) for side, corner in corners.items()}
    printer = Printer()
    for side, found in gauges.items():
        fixed = caster_gauge(found.caster, found.kingpin_inclination, found.camber, turn, found.toe)
        rows = [*ways.values(), "kingpin by brake"]
        shown, alone = ([*(getattr(of, name) for name in ways), of.kingpin_by_brake] for of in (found, fixed))
        truth = [found.caster] * 3 + [found.kingpin_inclination]
        printer.sheet(
            Sheet(
                f"{axle.name}, {side}: turned {turn:g} deg out and in, camber {found.camber_out:+.3f} and"
                f" {found.camber_in:+.3f} deg",
                Column(["reading"], rows, words=True),
                [
                    Column(["shown", "deg"], [_three(v) for v in shown]),
                    Column(["truth", "deg"], [_three(v) for v in truth]),
                    Column(["error", "deg"], [_three(a - b) for a, b in zip(shown, truth, strict=True)]),
                    Column(["error,", "fixed axis", "deg"], [_three(a - b) for a, b in zip(alone, truth, strict=True)]),
                ],
            )
        )
        printer.notes(
            f"Toe of this wheel {_signed(found.toe, 3)} deg is {_signed(lengths[side], 2)} mm across {diameter:g} mm;"
            f" by itself it shifts caster by sines by {_signed(found.shift_by_toe, 3)} deg.",
            f"The rack stands at {_signed(found.rack_out, 1)} mm for out and {_signed(found.rack_in, 1)} mm for in.",
            *beyond(axle, {"rack": round(max(found.rack_out, found.rack_in), 1)}),
            *beyond(axle, {"rack": round(min(found.rack_out, found.rack_in), 1)}),
        )
        printer.gap()
        plate = plates[side]
        printer.sheet(
            Sheet(
                f"{axle.name}, {side}: two dials {spacing:g} mm apart on a bump-steer plate",
                Column(["hub", "travel", "mm"], [_signed(v, 0) for v in travels]),
                [
                    Column(["front", "dial", "mm"], [_three(v) for v in plate.front_dial.values]),
                    Column(["rear", "dial", "mm"], [_three(v) for v in plate.rear_dial.values]),
                    Column(["toe", "change", "deg"], [_three(v) for v in plate.toe_change.values]),
                ],
                {int(row): "out of reach" for row in np.flatnonzero(~np.isfinite(plate.front_dial.values))},
            )
        )
        printer.gap()
    printer.notes(
        "By practice: the difference of the two cambers times 1.5 at 20 deg, times 3 at 10 deg; none at other turns.",
        "Dials: zero at design height, positive as the plate moves outboard, level with the wheel centre at design;"
        " toe change: toe-in positive. Travel is the wheel centre's (positive: bump), rack centred.",
        "On a strut the steering axis moves as it steers: a fixed axis is what the formulas take for granted.",
        "The turntable's zero is the wheel straight ahead as it stands, toe and all: the gauge sees caster in the"
        " wheel's own plane, which toe turns against the car.",
        "Held: ride height (travel measured at the ground), design height, upright, settings as measured. Rack:"
        " positive toward the left of the car.",
    )


def _round_travels(low: float, high: float) -> npt.NDArray[np.float64]:
    """Travels from full droop to full bump, mm: both ends, and round numbers between them, zero among these."""
    step = next((step for step in _STEPS_MM if low + high <= _MOST_STEPS * step), _STEPS_MM[-1])
    between = step * np.arange(-math.floor(low / step), math.floor(high / step) + 1)
    # No zero bears a minus sign.
    return np.unique([-low, *between, high]) + 0.0


def _signed(value: float, decimals: int) -> str:
    """A number with its sign, and no minus before zero."""
    return f"{round(value, decimals) + 0.0:+.{decimals}f}"


def _three(value: float) -> str:
    return NO_SUCH_POINT if not np.isfinite(value) else f"{round(value, 3) + 0.0:.3f}"


@takes_settings()
def cure(
    car: CarName,
    aim: Annotated[str, typer.Option("--aim", metavar="AIM", help="slope, or flattest over the range.")] = "slope",
    low: Annotated[float, typer.Option("--from", metavar="MM", help="Lowest travel of the range.")] = -40.0,
    high: Annotated[float, typer.Option("--to", metavar="MM", help="Highest travel of the range.")] = 40.0,
    side: SideChoice = Side.LEFT,
    plot: PlotPath = None,
    *,
    settings: dict[str, float],
) -> None:
    """What cures bump steer: a spacer at the tie rod's outer end, or another height of the rack?

    How far to raise either joint (negative: lower it), and bump steer before and after. A joint that is raised leaves
    the rod too short or too long by a little: the column 'tie rod longer' says how much has to be added to it
    (negative: taken off) so that toe at design height is what it was before. Ride height is held. --plot draws toe over travel
    before and after, cured by the spacer.
    """
    check_plot_path(plot)
    axle = load_car(car)
    corner = corner_of(axle, side)
    wanted: Any = aim
    spacer = bump_steer_cure(corner, "spacer", aim=wanted, over=(low, high), **settings)
    rack = bump_steer_cure(corner, "rack_height", aim=wanted, over=(low, high), **settings)
    printer = Printer()
    both = (spacer, rack)
    printer.sheet(
        Sheet(
            f"{axle.name}, {side.value}: bump steer cured, aim: {aim}",
            Column(["way"], ["spacer at the outer joint", "height of the rack"], words=True),
            [
                Column(["raised", "mm"], [f"{found.raised:+.2f}" for found in both]),
                Column(["tie rod", "longer", "mm"], [f"{found.tie_rod:+.2f}" for found in both]),
                Column(["slope", "before", "deg/m"], [f"{1000 * found.slope_before:+.2f}" for found in both]),
                Column(
                    ["slope", "after", "deg/m"], [f"{round(1000 * found.slope_after, 2) + 0.0:+.2f}" for found in both]
                ),
                Column(["spread", "before", "deg"], [f"{found.spread_before:.3f}" for found in both]),
                Column(["spread", "after", "deg"], [f"{found.spread_after:.3f}" for found in both]),
            ],
        )
    )
    printer.notes(
        "Slope: positive where the wheel toes in as it rises, at design height."
        f" Spread: greatest less least toe over travel from {low:g} to {high:g} mm (positive: bump), ride height held.",
        "Tie rod longer: added to the rod with the joint moved, so that without settings toe at design height stays"
        " what it was; with settings it may move a little, and toe has to be set again.",
        "Bump steer asks for points measured to a millimetre; check it on the car.",
        *beyond(axle, {**settings, "travel": low}),
        *beyond(axle, {"travel": high}),
    )
    if plot is not None:
        save_plot(_before_and_after(spacer.curves), plot)
        say(f"wrote {plot}")
    print_cautions(printer)


def _before_and_after(curves: xr.Dataset) -> Any:
    from strutsweep import plots

    return plots.against_travel(curves, readings="toe")


def space(
    car: CarName,
    path: Annotated[Path, typer.Argument(metavar="FILE", show_default=False, help="The page to write, *.html.")],
    force: Annotated[bool, typer.Option("--force", help="Overwrite the file if there is one.")] = False,
) -> None:
    """How does the axle look and move in space?

    One page for a browser, in one file that needs no network: sliders for travel, rack and roll, and the main readings.
    Travel and rack in mm, roll in deg; positive is bump, toward the left of the car, and leaning to the right.
    """
    from strutsweep import plots

    axle = load_car(car)
    if path.exists() and not force:
        raise FileError(f"{path} is there already; --force overwrites it", path=path, reason="is there already")
    low, high = (limit.taken for limit in limits_of(axle, "travel"))
    travels = _round_travels(low, high)
    writing(
        path,
        lambda: plots.save_three_dimensional(axle, path, travel=travels, roll=[-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0]),
    )
    say(f"wrote {path}")
