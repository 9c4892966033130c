"""What the workshop's gauges show, and how far off that is: caster by a steer sweep, bump steer by two dials,
toe by plates."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr
from scipy.optimize import brentq

from strutsweep._core import Corner, Pose
from strutsweep._within import MOST_MM, above_zero, check_corner, check_inputs, finite, row, within
from strutsweep.errors import InputError, ReachError
from strutsweep.steering import _frame
from strutsweep.sweeping import sweep

Vector = npt.NDArray[np.float64]

__all__ = ["CasterGauge", "bump_steer_plate", "caster_gauge", "caster_sweep", "toe_as_length", "toe_from_length"]

_FOUND_DEG: Final = 1e-12
_MOST_TURN_DEG: Final = 60.0
_MOST_LEAN_DEG: Final = 45.0
"""A steering axis or a wheel that leans farther is none of a car's."""


@dataclass(frozen=True)
class CasterGauge:
    """Two readings of a wheel turned out and in, and what each common formula makes of them; deg but for the rack.

    Attributes
    ----------
    turn : float
        How far the wheel was turned either way: the change of its heading, as a turntable shows it that is set to zero
        under the wheel as it stands straight ahead, static toe and all.
    camber_out, camber_in : float
        Camber with the front of the wheel turned out and in by that much.
    by_sines : float
        Caster as (camber_out - camber_in) / (2 sin turn), all in degrees: what a gauge's scale is made from, sign
        turned.
    by_practice : float
        The same with the round factor of the trade: 1.5 at 20 deg, 3 at 10 deg; NaN at other turns.
    by_exact_formula : float
        Caster from the two readings by the exact relation; kingpin inclination, camber and toe straight ahead known.
    kingpin_by_brake : float
        Kingpin inclination from the pitch of the wheel with its brake locked, by the exact relation; caster and toe
        known.
    caster, kingpin_inclination, camber, toe : float
        The truth, straight ahead; toe of this wheel, toe-in positive.
    rack_out, rack_in : float
        Rack displacement in mm, toward the left of the car, that turns the wheel out and in by so much; NaN for the
        textbook's wheel, which has no rack.
    """

    turn: float
    camber_out: float
    camber_in: float
    by_sines: float
    by_practice: float
    by_exact_formula: float
    kingpin_by_brake: float
    caster: float
    kingpin_inclination: float
    camber: float
    toe: float
    rack_out: float
    rack_in: float

    @property
    def shift_by_toe(self) -> float:
        """What static toe alone adds to caster by the gauge's sines, deg, on a wheel that turns about a fixed axis.

        A gauge measures against the wheel's own plane. Turned by toe, that sees some of the kingpin inclination as
        caster: toe-in takes away about toe x tan(kingpin inclination), 0.02 deg for 0.1 deg.
        """
        with_toe, without = (
            caster_gauge(self.caster, self.kingpin_inclination, self.camber, self.turn, toe) for toe in (self.toe, 0.0)
        )
        return with_toe.by_sines - without.by_sines

    @property
    def errors(self) -> dict[str, float]:
        """What each way shows less the truth, deg."""
        return {
            "by_sines": self.by_sines - self.caster,
            "by_practice": self.by_practice - self.caster,
            "by_exact_formula": self.by_exact_formula - self.caster,
            "kingpin_by_brake": self.kingpin_by_brake - self.kingpin_inclination,
        }

    def __str__(self) -> str:
        return (
            f"turned {self.turn:g} deg out and in: camber {self.camber_out:+.3f} and {self.camber_in:+.3f} deg;"
            f" caster {self.by_sines:.3f} by the gauge's sines ({self.errors['by_sines']:+.3f}),"
            f" truth {self.caster:.3f} deg"
        )


def _practice(turn: float, difference: float) -> float:
    factors = {20.0: 1.5, 10.0: 3.0}
    return factors[turn] * difference if turn in factors else math.nan


def caster_gauge(
    caster: float, kingpin_inclination: float, camber: float = 0.0, turn: float = 20.0, toe: float = 0.0
) -> CasterGauge:
    """A caster gauge on a wheel that turns about a fixed steering axis: the textbook's wheel.

    Parameters
    ----------
    caster, kingpin_inclination, camber : float
        In deg, projected angles of the steering axis and the wheel's camber straight ahead; -45 to 45.
    turn : float
        Change of the wheel's heading at either reading, as a turntable shows it, in deg; above 0 to 60.
    toe : float
        Toe of this wheel straight ahead, in deg, toe-in positive, -45 to 45. The turntable is set to zero under the
        wheel as it stands.

    Returns
    -------
    CasterGauge

    Raises
    ------
    InputError
        A number is not finite or beyond its limits, or no turn about this axis gives the heading.

    Notes
    -----
    Rodrigues' rotation about the axis; the turn about the axis that gives the turntable's heading is found first. The
    method is January's, Steering Geometry and Caster Measurement, SAE 850219 (1985).

    Examples
    --------
    >>> import strutsweep as ss
    >>> gauge = ss.caster_gauge(5.0, 12.0)
    >>> round(gauge.by_sines, 7), round(gauge.errors["by_sines"], 3)
    (5.0241941, 0.024)
    """
    turn = above_zero("turn", turn, "deg", _MOST_TURN_DEG)
    caster, kingpin_inclination, camber, toe = (
        within(name, value, "deg", -_MOST_LEAN_DEG, _MOST_LEAN_DEG)
        for name, value in (
            ("caster", caster),
            ("kingpin_inclination", kingpin_inclination),
            ("camber", camber),
            ("toe", toe),
        )
    )
    axis, spin, ahead = _axis(caster, kingpin_inclination), _spin(camber, toe), _ahead(toe)
    found = {}
    for sign in (1.0, -1.0):
        delta = _about_axis(axis, spin, sign * turn - toe)
        now = _turned(spin, axis, delta)
        found[sign] = (delta, math.asin(-now[2]), float(_turned(ahead, axis, delta)[2]))
    truth = _Truth(caster, kingpin_inclination, camber, toe)
    return _gauge(turn, found, truth, (math.nan, math.nan))


def _spin(camber: float, toe: float) -> Vector:
    """The spin axis of a left wheel."""
    gamma, tau = math.radians(camber), math.radians(toe)
    return np.array([math.cos(gamma) * math.sin(tau), math.cos(gamma) * math.cos(tau), -math.sin(gamma)])


def _ahead(toe: float) -> Vector:
    """The way forward of a left wheel, level."""
    tau = math.radians(toe)
    return np.array([math.cos(tau), -math.sin(tau), 0.0])


def _turned(vector: Vector, axis: Vector, delta: float) -> Vector:
    """Rodrigues' rotation."""
    moved: Vector = (
        vector * math.cos(delta)
        + np.cross(axis, vector) * math.sin(delta)
        + axis * (np.dot(axis, vector) * (1.0 - math.cos(delta)))
    )
    return moved


def _about_axis(axis: Vector, spin: Vector, heading: float) -> float:
    """The turn about a fixed steering axis, rad, that gives a left wheel a heading in deg, to the left positive."""

    def missed(delta: float) -> float:
        now = _turned(spin, axis, delta)
        return math.atan2(-now[0], now[1]) - math.radians(heading)

    if not missed(-1.5) < 0.0 < missed(1.5):
        message = f"turn: no turn about this steering axis heads the wheel {heading:+g} deg"
        raise InputError(message, name="turn", value=heading, unit="deg")
    return float(brentq(missed, -1.5, 1.5, xtol=1e-15))


def _axis(caster: float, kingpin_inclination: float) -> Vector:
    """The steering axis of a left wheel, of length one."""
    axis = np.array([-math.tan(math.radians(caster)), -math.tan(math.radians(kingpin_inclination)), 1.0])
    scaled: Vector = axis / np.linalg.norm(axis)
    return scaled


@dataclass(frozen=True)
class _Truth:
    """A wheel straight ahead, deg."""

    caster: float
    kingpin_inclination: float
    camber: float
    toe: float


def _gauge(
    turn: float, found: dict[float, tuple[float, float, float]], truth: _Truth, racks: tuple[float, float]
) -> CasterGauge:
    """The formulas over two readings: turn about the axis, camber in rad and sine of pitch, by the turn's sign."""
    (out_turn, out_camber, out_pitch), (in_turn, in_camber, in_pitch) = found[1.0], found[-1.0]
    difference = math.degrees(out_camber - in_camber)
    tan_kingpin = math.tan(math.radians(truth.kingpin_inclination))
    gamma, tau = math.radians(truth.camber), math.radians(truth.toe)
    sine_sum = math.sin(out_turn) - math.sin(in_turn)
    # Rodrigues' rotation of s = (cos g0 sin toe, cos g0 cos toe, -sin g0) about e = (-tan t, -tan s, 1)/N, N = sqrt(1 +
    # tan^2 t + tan^2 s): -s.z grows by sin d cos g0 (tan t cos toe - tan s sin toe)/N, odd in d, and by an even part,
    # which does not cancel where the two turns about the axis are unlike.

    def even(delta: float, tan_caster: float) -> float:
        across = math.cos(gamma) * (tan_caster * math.sin(tau) + tan_kingpin * math.cos(tau)) + math.sin(gamma)
        size = 1.0 + tan_caster**2 + tan_kingpin**2
        return math.cos(delta) * math.sin(gamma) + (1.0 - math.cos(delta)) * across / size

    tan_caster = math.tan(math.radians(truth.caster))
    for _ in range(50):
        size = math.sqrt(1.0 + tan_caster**2 + tan_kingpin**2)
        odd = (math.sin(out_camber) - even(out_turn, tan_caster)) - (math.sin(in_camber) - even(in_turn, tan_caster))
        tan_caster = (size * odd / (sine_sum * math.cos(gamma)) + tan_kingpin * math.sin(tau)) / math.cos(tau)
    size = math.sqrt(1.0 + tan_caster**2 + tan_kingpin**2)

    # The same of the wheel's way forward, (cos toe, -sin toe, 0), whose Z is the sine of its pitch.
    def even_pitch(delta: float) -> float:
        return -(1.0 - math.cos(delta)) * (tan_caster * math.cos(tau) - tan_kingpin * math.sin(tau)) / size**2

    odd_pitch = (out_pitch - even_pitch(out_turn)) - (in_pitch - even_pitch(in_turn))
    tan_by_brake = (size * odd_pitch / sine_sum - tan_caster * math.sin(tau)) / math.cos(tau)
    return CasterGauge(
        turn=turn,
        camber_out=math.degrees(out_camber),
        camber_in=math.degrees(in_camber),
        by_sines=difference / (2.0 * math.sin(math.radians(turn))),
        by_practice=_practice(turn, difference),
        by_exact_formula=math.degrees(math.atan(tan_caster)),
        kingpin_by_brake=math.degrees(math.atan(tan_by_brake)),
        caster=truth.caster,
        kingpin_inclination=truth.kingpin_inclination,
        camber=truth.camber,
        toe=truth.toe,
        rack_out=racks[0],
        rack_in=racks[1],
    )


def caster_sweep(corner: Corner, *, turn: float = 20.0, **inputs: Any) -> CasterGauge:
    """A caster gauge on a real corner: the wheel is steered by its rack until the turntable shows the turn, either way.

    The axis of a strut corner moves as it steers, and the ground lifts or lowers the wheel against the body: what the
    formulas make of the readings is off by that too. So it is by static toe, as the turntable's zero is the wheel as it
    stands: `CasterGauge.shift_by_toe`. Nothing here knows the rack's stroke: compare ``rack_out`` and ``rack_in``.

    Parameters
    ----------
    corner : Corner
    turn : float
        Change of the wheel's heading from straight ahead at either reading, in deg; above 0 to 60.
    **inputs : float
        Settings, travel, roll, the rack at which the wheel counts as straight ahead, and ``travel_at``, as
        `Corner.solve` takes them.

    Returns
    -------
    CasterGauge

    Raises
    ------
    ReachError
        The corner cannot be steered so far.
    InputError
        The turn is not above 0 and at most 60 deg; as `Corner.solve`.

    Examples
    --------
    >>> import strutsweep as ss
    >>> gauge = ss.caster_sweep(ss.demo("hillclimb_saloon").left)
    >>> round(gauge.caster, 2), round(gauge.by_sines, 2)
    (5.36, 5.3)
    """
    check_corner("caster_sweep", corner)
    turn = above_zero("turn", turn, "deg", _MOST_TURN_DEG)
    check_inputs({name: value for name, value in inputs.items() if name != "travel_at"})
    straight = corner.solve(**inputs)
    truth = _Truth(straight.caster, straight.kingpin_inclination, straight.camber, straight.toe)
    axis, spin = _axis(truth.caster, truth.kingpin_inclination), _spin(truth.camber, truth.toe)
    ahead = np.linalg.inv(_frame(straight)) @ _heading(corner, straight)
    found, racks = {}, {}
    for sign in (1.0, -1.0):
        pose = _steered_to(corner, straight, -sign * turn, inputs)
        forward = _frame(pose) @ ahead
        delta = _about_axis(axis, spin, sign * turn - truth.toe)
        found[sign] = (delta, math.radians(pose.camber), float(forward[2]))
        racks[sign] = float(pose.inputs["rack"])
    return _gauge(turn, found, truth, (racks[1.0], racks[-1.0]))


def _heading(corner: Corner, pose: Pose) -> Vector:
    """The wheel's way forward, level, of length one."""
    outboard, toe = (1.0 if corner.side == "left" else -1.0), math.radians(pose.toe)
    return np.array([math.cos(toe), -outboard * math.sin(toe), 0.0])


def _steered_to(corner: Corner, straight: Pose, change: float, inputs: dict[str, Any]) -> Pose:
    """The pose in which toe has changed by this, deg; found by walking the rack out and closing in."""

    def missed(rack: float) -> float:
        return corner.solve(**{**inputs, "rack": straight.inputs["rack"] + rack}).toe - straight.toe - change

    way = math.copysign(1.0, change) * math.copysign(1.0, missed(0.5) - missed(-0.5))
    near, step = 0.0, 5.0
    while True:
        try:
            if missed(near + way * step) * missed(0.0) <= 0.0:
                break
            near += way * step
        except ReachError:
            step *= 0.5
            if step < 1e-6:
                raise
    rack = brentq(missed, near, near + way * step, xtol=_FOUND_DEG)
    return corner.solve(**{**inputs, "rack": straight.inputs["rack"] + float(rack)})


def toe_as_length(toe: float, diameter: float) -> float:
    """Toe as a length: how much nearer the front of a rim, or of a plate, is to the centre line than its rear.

    Parameters
    ----------
    toe : float
        Of one wheel, in deg, toe-in positive; for the total of an axle give the sum of both.
    diameter : float
        Of the rim, or length of the plate, in mm: say which, a tyre's is another.

    Returns
    -------
    float
        diameter x sin(toe), in mm.

    Raises
    ------
    InputError
        The toe is not between -90 and 90 deg, or the diameter not above zero.

    Examples
    --------
    >>> import strutsweep as ss
    >>> round(ss.toe_as_length(0.5308, 431.8), 2)
    4.0
    """
    toe, diameter = within("toe", toe, "deg", -90.0, 90.0), above_zero("diameter", diameter, "mm")
    return diameter * math.sin(math.radians(toe))


def toe_from_length(length: float, diameter: float) -> float:
    """Toe from the difference of front and rear across a rim, or along a plate; the inverse of `toe_as_length`.

    Parameters
    ----------
    length : float
        Rear less front distance, in mm, toe-in positive.
    diameter : float
        Of the rim, or length of the plate, in mm.

    Returns
    -------
    float
        In deg.

    Raises
    ------
    InputError
        A number is not finite; the diameter is not above zero, or shorter than the length.

    Examples
    --------
    >>> import strutsweep as ss
    >>> round(ss.toe_from_length(4.0, 431.8), 4)
    0.5308
    """
    length, diameter = finite("length", length, "mm"), above_zero("diameter", diameter, "mm")
    if abs(length) > diameter:
        raise InputError(
            f"length = {length:g} mm is more than the diameter, {diameter:g} mm: no toe",
            name="length",
            value=length,
            limit=diameter,
            unit="mm",
        )
    return math.degrees(math.asin(length / diameter))


def bump_steer_plate(
    corner: Corner, travel: npt.ArrayLike, *, spacing: float = 300.0, offset: float = 0.0, rack: float = 0.0
) -> xr.Dataset:
    """A bump-steer plate bolted to the hub, and two dials that stand on the floor and touch it.

    The dials stand level with the wheel centre at design, half the spacing ahead of and behind it, and touch the plate
    across the car; the wheel is moved up and down with the body held, travel measured at the hub.

    Parameters
    ----------
    corner : Corner
    travel : array
        Travel of the wheel centre in mm.
    spacing : float
        Distance of the two dials along the car, in mm.
    offset : float
        Distance of the plate's face outboard of the wheel centre, in mm.
    rack : float
        Rack displacement in mm.

    Returns
    -------
    xarray.Dataset
        Over ``travel``: ``front_dial`` and ``rear_dial`` (mm, zero at design height, positive as the plate moves
        outboard), ``toe_change`` by the dials (deg, toe-in positive), ``toe`` and ``error`` (deg, by the dials less the
        truth), ``bump_steer`` by the dials (deg/mm, slope between neighbours). NaN where a pose is out of reach.

    Raises
    ------
    InputError
        The spacing is not above zero, or a number is not finite.

    Notes
    -----
    tan(toe) = (rear - front) / spacing exactly, while the dials are level with each other. A plate that starts out with
    toe shows the change of toe; nothing is lost.

    Examples
    --------
    >>> import numpy as np, strutsweep as ss
    >>> plate = ss.bump_steer_plate(ss.demo("gravel_hatch").left, np.linspace(-40, 40, 9))
    >>> bool(abs(plate.error).max() < 1e-9)
    True
    """
    check_corner("bump_steer_plate", corner)
    spacing, offset = above_zero("spacing", spacing, "mm"), within("offset", offset, "mm", -MOST_MM, MOST_MM)
    rack = within("rack", rack, "mm", -MOST_MM, MOST_MM)
    travels = row("travel", travel)
    poses = sweep(corner, travel=travels, rack=rack, travel_at="hub", readings=["toe", "camber"], places="wheel_centre")
    start = sweep(corner, rack=rack, travel_at="hub", readings=["toe", "camber"], places="wheel_centre")
    outboard = 1.0 if corner.side == "left" else -1.0
    hub = corner.point("wheel_centre")

    def touched(dataset: xr.Dataset, ahead: float) -> Any:
        """Y of the plate outboard of the centre line, where a dial at this distance ahead of the hub touches it."""
        toe, camber = np.radians(dataset.toe.values), np.radians(dataset.camber.values)
        centre = dataset.wheel_centre
        along = hub[0] + ahead - centre.sel(xyz="x").values
        up = hub[2] - centre.sel(xyz="z").values
        s = np.array([np.cos(camber) * np.sin(toe), np.cos(camber) * np.cos(toe), -np.sin(camber)])
        return outboard * centre.sel(xyz="y").values + (offset - s[0] * along - s[2] * up) / s[1]

    front, rear = (touched(poses, way * spacing / 2.0) for way in (1.0, -1.0))
    front_start, rear_start = (touched(start, way * spacing / 2.0) for way in (1.0, -1.0))
    toe = np.degrees(np.arctan((rear - front) / spacing))
    toe_start = np.degrees(np.arctan((rear_start - front_start) / spacing))
    slope = np.gradient(toe, travels) if travels.size > 1 else np.full(travels.shape, np.nan)
    words = {
        "front_dial": (front - front_start, "mm", "front dial", "plate moves outboard"),
        "rear_dial": (rear - rear_start, "mm", "rear dial", "plate moves outboard"),
        "toe_change": (toe - toe_start, "deg", "change of toe by the dials", "toe-in"),
        "toe": (poses.toe.values, "deg", "toe of this wheel", "toe-in"),
        "error": (toe - poses.toe.values, "deg", "toe by the dials less the truth", "dials show more toe-in"),
        "bump_steer": (slope, "deg/mm", "bump steer by the dials", "the wheel toes in as it rises"),
    }
    return xr.Dataset(
        {
            name: (("travel",), values, {"units": units, "long_name": long_name, "positive": positive})
            for name, (values, units, long_name, positive) in words.items()
        },
        {"travel": travels},
        attrs={"car": corner.name, "side": corner.side, "title": f"Bump-steer plate, {corner.name}, {corner.side}"},
    )
