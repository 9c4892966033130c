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
from strutsweep.errors import FileError, GeometryError, InputError, ReachError, StrutsweepError
from strutsweep.fitting import Combination, Fit, fit, next_measurements
from strutsweep.measurements import Measurements
from strutsweep.scattering import Scatter, Source, normal, scatter, triangular, uniform
from strutsweep.searching import Limit, Quantity, Search, TradeOff, search, trade_off
from strutsweep.sensitivity import Sensitivities, sensitivities
from strutsweep.spreading import Spread, spread
from strutsweep.sweeping import solve, sweep
from strutsweep.top_plates import reach, slots

__all__ = [
    "Axle",
    "Combination",
    "Corner",
    "FileError",
    "Fit",
    "GeometryError",
    "InputError",
    "Limit",
    "Measurements",
    "Pose",
    "Quantity",
    "ReachError",
    "Scatter",
    "Search",
    "Sensitivities",
    "Source",
    "Spread",
    "StrutsweepError",
    "TopPlate",
    "TradeOff",
    "__version__",
    "demo",
    "demos",
    "fit",
    "load",
    "next_measurements",
    "normal",
    "reach",
    "scatter",
    "search",
    "sensitivities",
    "slots",
    "solve",
    "spread",
    "sweep",
    "trade_off",
    "triangular",
    "uniform",
]
