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
from strutsweep.sweeping import solve, sweep
from strutsweep.top_plates import reach, slots

__all__ = [
    "Axle",
    "Corner",
    "FileError",
    "GeometryError",
    "InputError",
    "Pose",
    "ReachError",
    "StrutsweepError",
    "TopPlate",
    "__version__",
    "demo",
    "demos",
    "load",
    "reach",
    "slots",
    "solve",
    "sweep",
]
