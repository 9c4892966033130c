"""Types of the native module: no more than what it holds, and tested against it."""

from collections.abc import Callable, Mapping, Sequence
from os import PathLike
from typing import Any, Literal, TypeAlias, TypedDict, TypeVar, Unpack, final, overload

import numpy as np
import numpy.typing as npt
import xarray as xr

__all__ = [
    "Axle",
    "Corner",
    "Pose",
    "TopPlate",
    "__version__",
    "axle_columns",
    "demo",
    "demos",
    "load",
    "plan_grid",
    "rack_sense",
    "rack_senses",
    "racks_for",
    "rouse",
    "settle",
    "settle_top",
    "slope_grid",
    "strut_load",
    "sum_up",
    "sweep_grid",
    "tie_rod_turns",
    "true_outer",
    "vocabulary",
]

__version__: str

_Floats: TypeAlias = npt.NDArray[np.float64]
_Whole: TypeAlias = npt.NDArray[np.int64]
_Triple: TypeAlias = Sequence[float] | npt.NDArray[np.floating | np.integer]
_Side: TypeAlias = Literal["left", "right"]
_TravelAt: TypeAlias = Literal["ground", "hub", "strut"]
_Path: TypeAlias = str | PathLike[str]
_T = TypeVar("_T")

class _Changes(TypedDict, total=False):
    arm_front: _Triple
    arm_rear: _Triple
    ball_joint: _Triple
    strut_top: _Triple
    strut_low: _Triple
    strut_clamp: _Triple
    tie_rod_inner: _Triple
    tie_rod_outer: _Triple
    wheel_centre: _Triple
    bearing_axis: _Triple
    rack_direction: _Triple
    wheel_radius: float
    camber: float
    toe: float
    name: str

class _Rack(TypedDict):
    mm_per_turn: float | None
    stroke: float | None

class _Dimensions(TypedDict):
    wheelbase: float | None
    centre_of_gravity_height: float | None
    front_brake_share: float | None
    wheel_load: float | None
    unsprung_mass: float | None

class _Limits(TypedDict):
    bump: float | None
    droop: float | None
    mount_in: float | None
    mount_back: float | None
    mount_up: float | None
    tie_rod: float | None
    clamp: float | None
    arm: float | None
    bearing_angle: float | None
    tie_rod_margin: float | None
    tie_rod_end_angle: float | None

class _Envelope(TypedDict):
    tyre_radius: float | None
    tyre_width: float | None
    arch_front: list[float] | None
    arch_rear: list[float] | None
    rail: list[float] | None
    arch_top: list[float] | None

class _StrutLoad(TypedDict):
    spring: float
    tie_rod: float
    side_force: _Floats
    ball_joint: _Floats
    cure: _Floats
    strut_axis: _Floats
    motion_ratio: float
    motion_ratio_change: float
    strut_compression: float

class _Spring(TypedDict):
    rate: float | None
    free_length: float | None
    upper_seat: list[float] | None
    lower_seat: list[float] | None
    collar_thread_pitch: float | None
    collar_up: float | None
    collar_down: float | None

class _Damper(TypedDict):
    body_thread_pitch: float | None
    body_shorter: float | None
    body_longer: float | None

class _TieRod(TypedDict):
    inner_thread_pitch: float | None
    inner_thread_hand: _Side | None
    inner_thread_engaged: float | None
    outer_thread_pitch: float | None
    outer_thread_hand: _Side | None
    outer_thread_engaged: float | None
    least_thread_engaged: float | None

class _Slot(TypedDict):
    direction: float
    reach: list[float]
    bolt: float | None
    width: float | None

class _Insert(TypedDict):
    offset: float
    angles: list[float]
    heights: list[float]

class _BoltCircle(TypedDict):
    count: int
    circle: float
    first: float
    centres: list[list[float]]

class _Clearing(TypedDict):
    nut: float | None
    nut_height: float
    insert: float | None
    rod: float | None

class _Mount(TypedDict):
    mount_in: float
    mount_back: float
    mount_up: float

class _Vocabulary(TypedDict):
    readings: dict[str, dict[str, Any]]
    axle_readings: dict[str, dict[str, Any]]
    settings: dict[str, dict[str, str]]
    motions: dict[str, dict[str, str]]
    places: dict[str, dict[str, str]]
    statuses: dict[str, dict[str, Any]]
    travel_at: dict[str, str]
    planning: dict[str, dict[str, Any]]
    hard_points: list[str]
    hard_point_fields: dict[str, str]

@final
class Corner:
    @staticmethod
    def from_dict(tables: dict[str, Any]) -> Corner: ...
    def to_dict(self) -> dict[str, Any]: ...
    def replace(self, **changes: Unpack[_Changes]) -> Corner: ...
    def mirror(self) -> Corner: ...
    def solve(
        self,
        *,
        travel: float = 0.0,
        rack: float = 0.0,
        roll: float = 0.0,
        mount_in: float = 0.0,
        mount_back: float = 0.0,
        mount_up: float = 0.0,
        tie_rod: float = 0.0,
        clamp: float = 0.0,
        arm: float = 0.0,
        tie_outer_up: float = 0.0,
        ball_joint_down: float = 0.0,
        hub_spacer: float = 0.0,
        travel_at: _TravelAt = "ground",
    ) -> Pose: ...
    def strut_to_wheel(self, radius: float, *, clamp: float = 0.0, hub_spacer: float = 0.0) -> float: ...
    def derivatives(
        self,
        inputs: Sequence[str] | None = None,
        *,
        travel: float = 0.0,
        rack: float = 0.0,
        roll: float = 0.0,
        mount_in: float = 0.0,
        mount_back: float = 0.0,
        mount_up: float = 0.0,
        tie_rod: float = 0.0,
        clamp: float = 0.0,
        arm: float = 0.0,
        tie_outer_up: float = 0.0,
        ball_joint_down: float = 0.0,
        hub_spacer: float = 0.0,
        travel_at: _TravelAt = "ground",
        readings: Sequence[str] | None = None,
        places: Sequence[str] | None = None,
    ) -> xr.Dataset: ...
    def point(self, name: str) -> _Floats: ...
    @property
    def points(self) -> dict[str, _Floats]: ...
    @property
    def name(self) -> str: ...
    @property
    def side(self) -> _Side: ...
    @property
    def wheel_radius(self) -> float: ...
    @property
    def camber(self) -> float: ...
    @property
    def toe(self) -> float: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...
    def __reduce__(self) -> tuple[Callable[[dict[str, Any]], Corner], tuple[dict[str, Any]]]: ...

@final
class Axle:
    @staticmethod
    def from_toml(text: str) -> Axle: ...
    @staticmethod
    def from_dict(tables: dict[str, Any]) -> Axle: ...
    @staticmethod
    def from_corners(left: Corner, right: Corner | None = None) -> Axle: ...
    def to_toml(self) -> str: ...
    def to_dict(self) -> dict[str, Any]: ...
    def save(self, path: _Path) -> None: ...
    @property
    def left(self) -> Corner: ...
    @property
    def right(self) -> Corner: ...
    @property
    def name(self) -> str: ...
    @property
    def note(self) -> str | None: ...
    @property
    def rack(self) -> _Rack: ...
    @property
    def dimensions(self) -> _Dimensions: ...
    @property
    def limits(self) -> _Limits: ...
    @property
    def top_plate(self) -> TopPlate | None: ...
    @property
    def envelope(self) -> _Envelope: ...
    @property
    def spring(self) -> _Spring: ...
    @property
    def damper(self) -> _Damper: ...
    @property
    def tie_rods(self) -> dict[_Side, _TieRod]: ...
    def with_corners(self, left: Corner, right: Corner | None = None) -> Axle: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...
    def __reduce__(self) -> tuple[Callable[[dict[str, Any]], Axle], tuple[dict[str, Any]]]: ...

@final
class Pose:
    @property
    def camber(self) -> float: ...
    @property
    def toe(self) -> float: ...
    @property
    def caster(self) -> float: ...
    @property
    def kingpin_inclination(self) -> float: ...
    @property
    def included_angle(self) -> float: ...
    @property
    def scrub_radius(self) -> float: ...
    @property
    def mechanical_trail(self) -> float: ...
    @property
    def hub_offset(self) -> float: ...
    @property
    def hub_trail(self) -> float: ...
    @property
    def half_track(self) -> float: ...
    @property
    def wheelbase_shift(self) -> float: ...
    @property
    def strut_compression(self) -> float: ...
    @property
    def bearing_angle(self) -> float: ...
    @property
    def tie_rod_margin(self) -> float: ...
    @property
    def camber_gain(self) -> float: ...
    @property
    def bump_steer(self) -> float: ...
    @property
    def caster_gain(self) -> float: ...
    @property
    def motion_ratio(self) -> float: ...
    @property
    def roll_centre_height(self) -> float: ...
    @property
    def swing_arm_length(self) -> float: ...
    @property
    def anti_dive_angle(self) -> float: ...
    @property
    def side_view_swing_arm(self) -> float: ...
    @property
    def readings(self) -> dict[str, float]: ...
    def point(self, name: str) -> _Floats: ...
    @property
    def points(self) -> dict[str, _Floats]: ...
    @property
    def inputs(self) -> dict[str, float]: ...
    @property
    def travel_at(self) -> _TravelAt: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    __hash__: None  # type: ignore[assignment]

@final
class TopPlate:
    @staticmethod
    def from_dict(tables: dict[str, Any]) -> TopPlate: ...
    def to_dict(self) -> dict[str, Any]: ...
    def replace(self, **changes: Any) -> TopPlate: ...
    def mount(self, *, plate: float = 0.0, insert: float = 0.0, position: int = 0) -> _Mount: ...
    def mounts(self, plate: _Floats, insert: _Floats, position: _Whole) -> _Floats: ...
    def places(self, plate: _Floats, insert: _Floats, position: _Whole) -> _Floats: ...
    def slides(self, inboard: _Floats, rearward: _Floats, position: _Whole) -> _Floats: ...
    def room(self, inboard: _Floats, rearward: _Floats) -> _Floats: ...
    def gaps(self, corner: Corner, strut_top: _Floats, strut_low: _Floats) -> _Floats: ...
    def axes(self, side: _Side = "left") -> _Floats: ...
    @property
    def rise(self) -> dict[str, float]: ...
    @property
    def plate_slot(self) -> _Slot: ...
    @property
    def insert_slot(self) -> _Slot: ...
    @property
    def insert(self) -> _Insert: ...
    @property
    def positions(self) -> int: ...
    @property
    def studs(self) -> _BoltCircle | None: ...
    @property
    def insert_bolts(self) -> _BoltCircle | None: ...
    @property
    def opening(self) -> dict[str, Any] | None: ...
    @property
    def clearing(self) -> _Clearing: ...
    @property
    def middle(self) -> list[float]: ...
    @property
    def bearing_height(self) -> float: ...
    @property
    def seat_height(self) -> float | None: ...
    @property
    def yaw(self) -> float: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...
    def __reduce__(self) -> tuple[Callable[[dict[str, Any]], TopPlate], tuple[dict[str, Any]]]: ...

def load(path: _Path) -> Axle: ...
def demo(name: str = "gravel_hatch") -> Axle: ...
def demos() -> list[str]: ...
def rouse(poses: int, threads: int) -> None: ...
@overload
def sweep_grid(
    corner: Corner,
    grid: Sequence[int],
    inputs: dict[str, _Floats],
    points: dict[str, _Floats],
    readings: Sequence[str],
    places: Sequence[str],
    travel_at: _TravelAt,
    threads: int,
    progress: Callable[[int], object] | None,
    label: None = None,
) -> tuple[dict[str, _Floats], npt.NDArray[np.int8], dict[str, int], None]: ...
@overload
def sweep_grid(
    corner: Corner,
    grid: Sequence[int],
    inputs: dict[str, _Floats],
    points: dict[str, _Floats],
    readings: Sequence[str],
    places: Sequence[str],
    travel_at: _TravelAt,
    threads: int,
    progress: Callable[[int], object] | None,
    label: Callable[[dict[str, _Floats], npt.NDArray[np.int8]], _T],
) -> tuple[dict[str, _Floats], npt.NDArray[np.int8], dict[str, int], _T]: ...
def slope_grid(
    corner: Corner,
    poses: _Floats,
    travel_at: Sequence[str],
    readings: Sequence[str],
    parameters: Sequence[str],
    threads: int,
) -> tuple[_Floats, _Floats, npt.NDArray[np.int8]]: ...
def sum_up(
    batch: _Floats,
    percents: Sequence[float] | _Floats,
    low: _Floats,
    high: _Floats,
    bins: int,
    threads: int,
) -> tuple[npt.NDArray[np.uint64], _Floats, _Floats, _Floats, npt.NDArray[np.uint32]]: ...
def axle_columns(
    axle: Axle,
    readings: Sequence[str],
    columns: dict[str, _Floats],
    roll: _Floats,
    at_design: dict[str, _Floats] | None = None,
) -> dict[str, _Floats]: ...
def racks_for(
    axle: Axle,
    inputs: dict[str, _Floats],
    points: dict[str, _Floats],
    wanted: _Floats,
    by: Literal["mean", "inner"],
    travel_at: _TravelAt,
    threads: int,
) -> tuple[_Floats, npt.NDArray[np.int8]]: ...
def rack_sense(axle: Axle) -> float: ...
def rack_senses(axle: Axle, points: dict[str, _Floats], count: int) -> _Floats: ...
def true_outer(inner: float, kingpin_track: float, wheelbase: float) -> float: ...
def strut_load(
    corner: Corner,
    inputs: dict[str, float],
    travel_at: _TravelAt,
    load: _Triple,
    upper_seat: _Triple | None = None,
    lower_seat: _Triple | None = None,
) -> _StrutLoad: ...
def plan_grid(
    corner: Corner,
    start: Sequence[float],
    travel_at: _TravelAt,
    wants: Sequence[tuple[str, Sequence[float], float | None]],
    free: Sequence[tuple[str, float, float, float | None]],
    ties: Sequence[tuple[str, str, float]],
    values: _Floats,
    threads: int,
) -> dict[str, npt.NDArray[Any]]: ...
def settle_top(
    corner: Corner,
    top_plate: TopPlate,
    position: npt.NDArray[np.int64],
    ride_height: _Floats,
    tower: _Floats,
    points: Mapping[str, _Floats],
    start: _Floats,
    wanted: _Floats,
    unknowns: Sequence[str],
    angles: Sequence[str],
    travel_at: _TravelAt,
    met: float,
    threads: int,
) -> tuple[_Floats, _Floats]: ...
def settle(
    car: Axle,
    side: _Side,
    setting: dict[str, float],
    change: tuple[float, float, float, float, float],
    ride_height: float,
) -> dict[str, float | None]: ...
def tie_rod_turns(car: Axle, side: _Side, longer: float) -> tuple[float | None, float | None, float | None]: ...
def vocabulary() -> _Vocabulary: ...
