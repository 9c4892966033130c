"""Words that name sides and places, as types."""

from __future__ import annotations

from typing import Final, Literal, TypeAlias

__all__ = ["SIDES", "Side", "TravelAt"]

Side: TypeAlias = Literal["left", "right"]
SIDES: Final[tuple[Side, Side]] = ("left", "right")

TravelAt: TypeAlias = Literal["ground", "hub", "strut"]
