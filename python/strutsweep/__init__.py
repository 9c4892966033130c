"""Kinematics of the MacPherson strut.

From the hard points of a corner to camber, toe, caster, kingpin inclination, scrub radius and the rest, over all of
travel and lock and any number of top-mount positions, in parallel.

Millimetres and degrees everywhere; axes are ISO 8855's: X forward, Y left, Z up. Left and right corners read alike.

Examples
--------
>>> import numpy as np, strutsweep as ss
>>> car = ss.demo("gravel_hatch")                       # or ss.load("car.toml")
>>> round(car.left.solve(travel=20.0).camber, 2)
-0.78
>>> ds = ss.sweep(car.left, travel=np.linspace(-60, 60, 121), mount_in=np.linspace(-20, 20, 41))
>>> ds.sizes["travel"], ds.sizes["mount_in"]
(121, 41)
"""

from strutsweep._core import Axle, Corner, Pose, TopPlate, __version__, demo, demos, load
from strutsweep._wanting import Want
from strutsweep.carding import Card, card
from strutsweep.combinations import Combination
from strutsweep.cures import BumpSteerCure, bump_steer_cure
from strutsweep.distributions import normal, triangular, uniform
from strutsweep.errors import FileError, GeometryError, InputError, ReachError, StrutsweepError
from strutsweep.fitting import Fit, fit
from strutsweep.gauges import (
    CasterGauge,
    bump_steer_plate,
    caster_gauge,
    caster_sweep,
    toe_as_length,
    toe_from_length,
)
from strutsweep.goals import Limit, Quantity
from strutsweep.heights import Heights, heights
from strutsweep.measurements import Measurements
from strutsweep.next_measuring import next_measurements
from strutsweep.plan_maps import plan_map
from strutsweep.planning import plan
from strutsweep.plans import AxlePlan, Plan
from strutsweep.rolling import roll_rates
from strutsweep.scattering import Scatter, Source, scatter
from strutsweep.searching import Search, search
from strutsweep.sensitivity import Sensitivities, sensitivities
from strutsweep.setting_up import (
    Anchored,
    Correction,
    Margin,
    Offsets,
    Response,
    Sheet,
    SteeringWheel,
    TieRodTurns,
    WheelReadings,
    WorkOrder,
    anchor,
    correct,
    load_sheet,
    margins,
    set_car,
    steering_wheel,
    turn_tie_rod,
)
from strutsweep.shares import CamberShares, camber_shares
from strutsweep.spreading import Spread, spread
from strutsweep.springs import SideForce, ride_height, side_force, spring_curves
from strutsweep.steering import Lock, LockLimit, largest_lock, steering_curves
from strutsweep.sweeping import solve, sweep
from strutsweep.top_plates import reach, slots
from strutsweep.trading_off import TradeOff, trade_off
from strutsweep.ways import Ways, ways

__all__ = [
    "Anchored",
    "Axle",
    "AxlePlan",
    "BumpSteerCure",
    "CamberShares",
    "Card",
    "CasterGauge",
    "Combination",
    "Corner",
    "Correction",
    "FileError",
    "Fit",
    "GeometryError",
    "Heights",
    "InputError",
    "Limit",
    "Lock",
    "LockLimit",
    "Margin",
    "Measurements",
    "Offsets",
    "Plan",
    "Pose",
    "Quantity",
    "ReachError",
    "Response",
    "Scatter",
    "Search",
    "Sensitivities",
    "Sheet",
    "SideForce",
    "Source",
    "Spread",
    "SteeringWheel",
    "StrutsweepError",
    "TieRodTurns",
    "TopPlate",
    "TradeOff",
    "Want",
    "Ways",
    "WheelReadings",
    "WorkOrder",
    "__version__",
    "anchor",
    "bump_steer_cure",
    "bump_steer_plate",
    "camber_shares",
    "card",
    "caster_gauge",
    "caster_sweep",
    "correct",
    "demo",
    "demos",
    "fit",
    "heights",
    "largest_lock",
    "load",
    "load_sheet",
    "margins",
    "next_measurements",
    "normal",
    "plan",
    "plan_map",
    "reach",
    "ride_height",
    "roll_rates",
    "scatter",
    "search",
    "sensitivities",
    "set_car",
    "side_force",
    "slots",
    "solve",
    "spread",
    "spring_curves",
    "steering_curves",
    "steering_wheel",
    "sweep",
    "toe_as_length",
    "toe_from_length",
    "trade_off",
    "triangular",
    "turn_tie_rod",
    "uniform",
    "ways",
]
