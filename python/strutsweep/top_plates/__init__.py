"""Adjustable strut tops: what a plate reaches, how long its slots must be, where its marks go, what it clears.

A `strutsweep.TopPlate` is part of a car file. The same numbers serve either side: left and right plates are mirror
images.

Examples
--------
>>> import strutsweep as ss
>>> from strutsweep import top_plates
>>> car = ss.demo("gravel_hatch")
>>> where = top_plates.settle(car.left, car.top_plate, camber=-2.0, caster=car.left.solve().caster)
>>> bool(where.inside)
True
"""

from strutsweep.top_plates.chances import SPREADS, Chance, chance
from strutsweep.top_plates.clearing import PARTS, Clearances, clearances, plate_map
from strutsweep.top_plates.hardware import Toe, readings_at, settle
from strutsweep.top_plates.marking import MarkKind, Sliding, marks
from strutsweep.top_plates.reaching import Join, Reach, joins, reach
from strutsweep.top_plates.slotting import FITS, Fit, Slot, SlotPlan, slot_width, slots

__all__ = [
    "FITS",
    "PARTS",
    "SPREADS",
    "Chance",
    "Clearances",
    "Fit",
    "Join",
    "MarkKind",
    "Reach",
    "Sliding",
    "Slot",
    "SlotPlan",
    "Toe",
    "chance",
    "clearances",
    "joins",
    "marks",
    "plate_map",
    "reach",
    "readings_at",
    "settle",
    "slot_width",
    "slots",
]
