"""Figures for a customer, a notebook or a report: readings over travel, rack and top mount; a corner in three views.

Every figure names the car and the corner, the unit and the positive way of each axis, what zero travel holds, and
every setting that is not zero. Every function returns a `matplotlib.figure.Figure` of its own, which pyplot does not
know: any thread may draw, nothing needs closing, and a notebook shows it as the last line of a cell (or by
``display(figure)``). In a script, `save` it. Labels and lines can be changed before that, as in any Matplotlib figure.

Examples
--------
>>> import numpy as np, strutsweep as ss
>>> from strutsweep import plots
>>> dataset = ss.sweep(ss.demo("gravel_hatch").left, travel=np.linspace(-60, 60, 25), mount_in=[-10, 0, 10])
>>> figure = plots.against_travel(dataset, readings=("camber", "toe"))
>>> [axes.get_ylabel() for axes in figure.axes]
['camber (deg)', 'toe of this wheel (deg)']
"""

from strutsweep.plots.axle import axle_front_view
from strutsweep.plots.carpets import carpet
from strutsweep.plots.certainty import fitted, histograms, learned, tornado, trade_off_curve
from strutsweep.plots.curves import against_rack, against_travel
from strutsweep.plots.maps import mount_map
from strutsweep.plots.plans import settings_map
from strutsweep.plots.plates import reach_map
from strutsweep.plots.roll_centre import roll_centre_path
from strutsweep.plots.sheet import save
from strutsweep.plots.three_dimensional import save_three_dimensional
from strutsweep.plots.turns import turn_view
from strutsweep.plots.views import three_views

__all__ = [
    "against_rack",
    "against_travel",
    "axle_front_view",
    "carpet",
    "fitted",
    "histograms",
    "learned",
    "mount_map",
    "reach_map",
    "roll_centre_path",
    "save",
    "save_three_dimensional",
    "settings_map",
    "three_views",
    "tornado",
    "trade_off_curve",
    "turn_view",
]
