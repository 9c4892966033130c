"""What to print wherever someone might turn a number into a setting of a car."""

from __future__ import annotations

from typing import Final

__all__ = ["CAUTIONS", "CAUTIONS_TITLE"]

CAUTIONS_TITLE: Final = "Before a spanner is lifted"

CAUTIONS: Final = (
    "A spring under load can kill: open no top nut before the spring is captive in a proper compressor, or proven"
    " loose.",
    "Tightening torques are those of the part's maker. Support the car as for any work under it.",
    "After any change: set toe, centre the steering wheel, see that tyre, strut and hoses stay clear at full lock in"
    " bump and droop, and have someone licensed to do so align and inspect the car.",
    "The law on altered suspensions differs by place, and the local one decides.",
    "These numbers are rigid geometry: rubber and bearings give.",
)
