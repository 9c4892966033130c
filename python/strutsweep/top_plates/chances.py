"""How likely a box can be reached when towers, parts and bolts are as far off as builds are."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import xarray as xr

from strutsweep._core import Corner, TopPlate
from strutsweep._inputs import TravelAt
from strutsweep.errors import InputError
from strutsweep.top_plates.hardware import Floats, Problem, Toe, check_toe, held, slack, solve_box
from strutsweep.top_plates.slotting import Pair, _pair

__all__ = ["SPREADS", "Chance", "chance"]

SPREADS: Final[dict[str, tuple[str, str]]] = {
    "tower": ("mm", "tower out of place, each coordinate"),
    "camber": ("deg", "knuckle and strut: camber as built"),
    "ball_joint": ("mm", "ball joint as measured, each coordinate"),
    "arm_pivots": ("mm", "inner arm pivots as measured, each coordinate"),
    "tie_rod_ends": ("mm", "tie-rod joints as measured, each coordinate"),
    "strut_lean": ("deg", "strut axis as measured, either way"),
    "slot_ends": ("mm", "ends of the slots as cut, each"),
    "offset": ("mm", "offset of the insert's bearing seat"),
    "bolt_play": ("mm", "bolts in their slots: anywhere within this of the middle, per direction"),
}
"""What may be off, its unit, and what it is. All are standard deviations but `bolt_play`, which is a largest amount."""

_USUAL: Final[dict[str, float]] = {
    "tower": 1.0,
    "ball_joint": 0.7,
    "arm_pivots": 0.7,
    "tie_rod_ends": 0.7,
    "strut_lean": 0.1,
    "camber": 0.15,
    "slot_ends": 0.1,
    "offset": 0.1,
    "bolt_play": 0.25,
}
LEAST_SAMPLES: Final = 10
"""Fewer cars than this tell nothing of how many fit."""
_HARDWARE_ONLY: Final = {"slot_ends", "offset", "bolt_play"}
_MET_DEG: Final = 1e-6
"""A hundred-thousandth of a millimetre of slide: nobody builds to that."""


@dataclass(frozen=True)
class Chance:
    """How likely the box can be reached.

    Attributes
    ----------
    samples : xarray.Dataset
        For each sample ``slack`` in mm, how far the bolts stay from the nearer slot end at the worst corner of the box
        (negative: that corner is out of reach), and whether all are ``reached``.
    shares : dict of str to float
        For each thing that may be off its share of the variance of the slack, alone; the largest first.
    alone : dict of str to float
        The chance if that thing alone were off.
    """

    samples: xr.Dataset
    shares: dict[str, float]
    alone: dict[str, float]

    @property
    def probability(self) -> float:
        """Share of the samples in which the whole box is reached, 0 to 1."""
        return float(self.samples.reached.mean())

    @property
    def standard_error(self) -> float:
        """Of the probability, from the number of samples."""
        p, n = self.probability, self.samples.sizes["sample"]
        return float(np.sqrt(max(p * (1.0 - p), 1.0 / n) / n))

    @property
    def matters_most(self) -> str:
        """What takes the largest share of the scatter: one of `SPREADS`."""
        return next(iter(self.shares))

    def __str__(self) -> str:
        lines = [
            f"chance that the whole box can be reached: {100.0 * self.probability:.1f} % (+-"
            f"{100.0 * self.standard_error:.1f} %, {self.samples.sizes['sample']} builds;"
            f" {self.samples.attrs['held']})",
            f"  slack at the slots' ends: mean {float(self.samples.slack.mean()):+.2f}, standard deviation"
            f" {float(self.samples.slack.std()):.2f} mm",
        ]
        for name, share in self.shares.items():
            unit, words = SPREADS[name]
            size = float(self.samples.attrs[name])
            lines.append(
                f"  {100.0 * share:5.1f} % of the scatter from {words}, {size:g} {unit};"
                f" alone {100.0 * self.alone[name]:.1f} % would fit"
            )
        return "\n".join(lines)

    def __repr__(self) -> str:
        return f"<Chance>\n{self}"


def chance(
    corner: Corner,
    top_plate: TopPlate,
    *,
    camber: Pair,
    caster: Pair,
    ride_heights: Pair = (0.0, 0.0),
    spreads: Mapping[str, float] | None = None,
    samples: int = 2000,
    positions: Sequence[int] | None = None,
    toe: Toe = "put_back",
    travel_at: TravelAt = "ground",
    seed: int = 1,
) -> Chance:
    """How likely a built car reaches a box of camber and caster with a top plate, and which tolerance matters most.

    Each sample is a car of its own. Its tower is out of place, parts unchanged, so that camber and caster shift;
    knuckle and strut add a camber of their own; hard points are not where they were measured, the wheel standing as it
    does; slots and insert are cut a little off, and bolts lie anywhere within their play. On each the hardware is
    solved for at every corner of the box and both ends of the ride-height band; a corner counts as reached if the bolts
    stay within the slots in one position of the insert. Then each thing that may be off is left alone in a run of its
    own.

    Parameters
    ----------
    corner : Corner
    top_plate : TopPlate
        With its slots as cut: ``plan.top_plate``.
    camber, caster : pair of float
        The box, in deg.
    ride_heights : pair of float
        The band, in mm of travel.
    spreads : mapping of str to float, optional
        How far things may be off, by the names of `SPREADS`; those not named keep 1 mm for the tower, 0.7 mm for other
        points, 0.1 deg of strut lean, 0.15 deg of camber, 0.1 mm for slot ends and offset, 0.25 mm of bolt play. Zero
        switches one off.
    samples : int
        Cars built.
    positions : sequence of int, optional
        Positions of the insert that may be used; all unless given.
    toe : {"put_back", "as_it_comes"}
        Whether the tie rod puts toe back to what it is at design, or keeps its length.
    travel_at : {"ground", "hub", "strut"}
        Where travel is measured, and so what is held.
    seed : int
        The same seed builds the same cars.

    Returns
    -------
    Chance

    Raises
    ------
    InputError
        An unknown or negative spread, fewer than 10 samples, a box the wrong way round.

    Examples
    --------
    >>> import strutsweep as ss
    >>> from strutsweep.top_plates import chance
    >>> car = ss.demo("gravel_hatch")
    >>> plan = ss.slots(car.left, car.top_plate, camber=(-2, -0.5), caster=(2.5, 3.2), tolerance=3.0)
    >>> found = chance(car.left, plan.top_plate, camber=plan.camber, caster=plan.caster, samples=500)
    >>> found.probability > 0.8, found.matters_most
    (True, 'tower')
    """
    check_toe(toe)
    box = _pair("camber", camber), _pair("caster", caster), _pair("ride_heights", ride_heights)
    sizes = _sizes(spreads)
    if samples < LEAST_SAMPLES:
        raise InputError(
            f"samples = {samples} is fewer than {LEAST_SAMPLES}", name="samples", value=samples, limit=LEAST_SAMPLES
        )
    used = tuple(range(top_plate.positions)) if positions is None else tuple(positions)
    if not used or any(not 0 <= position < top_plate.positions for position in used):
        message = f"positions = {list(used)} must be some of 0 to {top_plate.positions - 1}"
        raise InputError(message, name="positions", value=list(used))
    rng = np.random.default_rng(seed)
    draws = _draws(rng, samples)
    job = _Builds(corner, top_plate, box, used, toe, travel_at)
    left = job.slack({name: sizes[name] * draw for name, draw in draws.items()})
    variances, alone = {}, {}
    for name in SPREADS:
        if not sizes[name]:
            continue
        by_itself = job.slack({name: sizes[name] * draws[name]})
        variances[name] = float(np.var(np.where(np.isfinite(by_itself), by_itself, np.nanmin(by_itself))))
        alone[name] = float((by_itself >= 0.0).mean())
    total = sum(variances.values()) or 1.0
    shares = {name: variances[name] / total for name in sorted(variances, key=variances.__getitem__, reverse=True)}
    words = {"units": "mm", "long_name": "distance of the bolts from the nearer slot end at the worst box corner"}
    return Chance(
        xr.Dataset(
            {"slack": ("sample", left, {**words, "positive": "inside"}), "reached": ("sample", left >= 0.0)},
            attrs={"title": corner.name, "side": corner.side, "held": held(toe, travel_at), "seed": seed, **sizes},
        ),
        shares or {next(iter(SPREADS)): 0.0},
        alone or {next(iter(SPREADS)): float((left >= 0.0).mean())},
    )


def _sizes(spreads: Mapping[str, float] | None) -> dict[str, float]:
    sizes = dict(_USUAL)
    for name, value in (spreads or {}).items():
        if name not in SPREADS:
            raise InputError(f"spreads: {name!r} is not one of {', '.join(SPREADS)}", name="spreads", value=name)
        if not 0.0 <= value < np.inf:
            unit = SPREADS[name][0]
            raise InputError(f"spreads: {name} = {value} {unit} must be 0 or more", name="spreads", value=value)
        sizes[name] = float(value)
    return sizes


_HOW_MANY: Final = {
    "tower": 3,
    "ball_joint": 3,
    "arm_pivots": 6,
    "tie_rod_ends": 6,
    "strut_lean": 2,
    "camber": 1,
    "slot_ends": 4,
    "offset": 1,
    "bolt_play": 2,
}


def _draws(rng: np.random.Generator, samples: int) -> dict[str, Floats]:
    """Errors of size one, one row an independent number."""
    return {
        name: rng.uniform(-1.0, 1.0, (count, samples)) if name == "bolt_play" else rng.standard_normal((count, samples))
        for name, count in _HOW_MANY.items()
    }


class _Builds:
    """Cars as built, and how far the slots' ends are from what the box needs on each."""

    def __init__(
        self,
        corner: Corner,
        plate: TopPlate,
        box: tuple[tuple[float, float], tuple[float, float], tuple[float, float]],
        positions: Sequence[int],
        toe: Toe,
        travel_at: TravelAt,
    ) -> None:
        self.corner = corner
        self.plate = plate
        self.positions = positions
        self.toe = toe
        self.travel_at = travel_at
        zero, every = np.zeros(plate.positions), np.arange(plate.positions)
        self._turned = plate.slides(zero, zero, every)
        """What slides make up for each position of the insert."""
        self.corners = list(itertools.product(*(sorted(set(pair)) for pair in box)))

    def slack(self, off: Mapping[str, Floats]) -> Floats:
        """Slack at the worst corner of the box, a number a car; minus infinity where a corner cannot be met at all."""
        samples = next(iter(off.values())).shape[1]
        found = np.full(samples, np.inf)
        # Slots, insert and bolts change nothing in the linkage: one car serves all of them.
        cars = samples if set(off) - _HARDWARE_ONLY else 1
        points = self._points(off, samples)
        shift = off.get("tower")
        camber_off = off["camber"][0] if "camber" in off else np.zeros(cars)
        alike = not any(self.plate.insert["heights"])
        for camber, caster, height in self.corners:
            best = np.full(samples, -np.inf)
            at: Floats | None = None
            for position in self.positions:
                if at is None or not alike:
                    at = self._solve(cars, position, camber - camber_off, caster, height, points, shift)
                slides = at.copy()
                if alike:
                    slides[:2] += self._turned[:, [position]] - self._turned[:, [self.positions[0]]]
                slides = np.broadcast_to(slides, (3, samples)) if cars == 1 else slides
                best = np.maximum(best, self._within(slides, position, off))
            found = np.minimum(found, best)
        return found

    def _solve(
        self,
        cars: int,
        position: int,
        camber: Floats,
        caster: float,
        height: float,
        points: dict[str, xr.DataArray],
        shift: Floats | None,
    ) -> Floats:
        """Slides and tie rod that make this camber and caster, a column a car."""

        def problem(count: int, built: dict[str, xr.DataArray], moved: Floats | None) -> Problem:
            where = np.full(count, position), np.full(count, height)
            return Problem(self.corner, self.plate, *where, self.travel_at, built, moved, _MET_DEG)

        # The car as drawn is near all others.
        mean = np.array([float(camber.mean())])
        drawn = solve_box(problem(1, {}, None), mean, np.array([caster]), self.toe)
        start = np.repeat(drawn, cars, axis=1) if np.isfinite(drawn).all() else None
        return solve_box(problem(cars, points, shift), camber, np.full(cars, caster), self.toe, start)

    def _points(self, off: Mapping[str, Floats], samples: int) -> dict[str, xr.DataArray]:
        """Hard points as built, in the car's coordinates."""
        moved: dict[str, Floats] = {}

        def move(name: str, by: Floats) -> None:
            start = moved.get(name, np.repeat(self.corner.point(name)[:, None], samples, axis=1))
            moved[name] = start + by

        if "ball_joint" in off:
            move("ball_joint", off["ball_joint"])
        for names, key in (
            (("arm_front", "arm_rear"), "arm_pivots"),
            (("tie_rod_inner", "tie_rod_outer"), "tie_rod_ends"),
        ):
            if key in off:
                move(names[0], off[key][:3])
                move(names[1], off[key][3:])
        if "strut_lean" in off:
            along = self.corner.point("strut_top") - self.corner.point("strut_low")
            length = float(np.linalg.norm(along))
            lean = np.radians(off["strut_lean"]) * length
            move("strut_low", np.stack([lean[0], lean[1], np.zeros(samples)]))
        return {name: xr.DataArray(values, dims=("xyz", "place")) for name, values in moved.items()}

    def _within(self, at: Floats, position: int, off: Mapping[str, Floats]) -> Floats:
        """Slack of slides against the slots as cut, the insert as made, the bolts as they lie."""
        if not {"slot_ends", "offset", "bolt_play"} & set(off):
            return slack(self.plate, at)
        slides = at[:2].copy()
        if "offset" in off:
            angle = np.radians(self.plate.insert["angles"][position])
            inboard, rearward = off["offset"][0] * np.cos(angle), off["offset"][0] * np.sin(angle)
            zero = np.zeros_like(inboard)
            whole = np.full(inboard.size, position)
            # A seat too far out needs that much less slide.
            slides += self.plate.slides(-inboard, -rearward, whole) - self.plate.slides(zero, zero, whole)
        if "bolt_play" in off:
            slides += off["bolt_play"]
        left = np.full(slides.shape[1], np.inf)
        cut = off.get("slot_ends", np.zeros((4, slides.shape[1])))
        for row, slot in enumerate((self.plate.plate_slot, self.plate.insert_slot)):
            least, most = slot["reach"]
            left = np.minimum(left, slides[row] - (least + cut[2 * row]))
            left = np.minimum(left, most + cut[2 * row + 1] - slides[row])
        return np.where(np.isfinite(at[:2]).all(axis=0), left, -np.inf)
