"""Drawings that one can cut from: a top plate and its insert as DXF, SVG and PDF, at full size.

Every file is written from one list of shapes on three layers: what to cut, what to engrave, what is only to be read.

Examples
--------
>>> import strutsweep as ss
>>> from strutsweep import drawings
>>> car = ss.demo("gravel_hatch")
>>> sheet = drawings.plate_drawing(car.right, car.top_plate, kind="millimetres")
>>> sheet.web > 3.0, sheet.warnings
(True, ("DOES NOT PASS the tower's opening: nut by 2.9, insert by 5.4 mm",))
"""

from strutsweep.drawings.geometry import LAYERS, Circle, Contour, Drawing, Text
from strutsweep.drawings.pictures import picture
from strutsweep.drawings.plates import plate_drawing
from strutsweep.drawings.writers import save

__all__ = ["LAYERS", "Circle", "Contour", "Drawing", "Text", "picture", "plate_drawing", "save"]
