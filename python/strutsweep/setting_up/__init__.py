"""Setting a car up: from a measured alignment sheet to plate positions and tie-rod turns, and back."""

from strutsweep.setting_up.anchoring import Anchored, Offsets, anchor
from strutsweep.setting_up.correcting import Correction, Response, correct
from strutsweep.setting_up.margins import Margin, margins
from strutsweep.setting_up.ordering import set_car
from strutsweep.setting_up.quantities import toe_angle, toe_length
from strutsweep.setting_up.sheet import Sheet, WheelReadings, load_sheet
from strutsweep.setting_up.steps import Step
from strutsweep.setting_up.tie_rods import SteeringWheel, TieRodTurns, steering_wheel, turn_tie_rod
from strutsweep.setting_up.work import Line, WorkOrder

__all__ = [
    "Anchored",
    "Correction",
    "Line",
    "Margin",
    "Offsets",
    "Response",
    "Sheet",
    "SteeringWheel",
    "Step",
    "TieRodTurns",
    "WheelReadings",
    "WorkOrder",
    "anchor",
    "correct",
    "load_sheet",
    "margins",
    "set_car",
    "steering_wheel",
    "toe_angle",
    "toe_length",
    "turn_tie_rod",
]
