"""How a command ends: what is printed on trouble, and the exit status."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import typer
import typer.core

from strutsweep.errors import ReachError, StrutsweepError

__all__ = ["WRONG_INPUT", "OUT_OF_REACH", "INTERRUPTED", "Commands", "NothingReached", "say"]

WRONG_INPUT: Final = 1
"""Something in the car file, or a value, that cannot be worked with. A command line that cannot be read ends in 2."""

OUT_OF_REACH: Final = 3
"""The input is fine, but no pose asked for can be reached."""

INTERRUPTED: Final = 130
"""Ctrl-C, as shells report it."""


class NothingReached(Exception):
    """No pose that was asked for can be reached; the reasons, in words."""

    def __init__(self, reasons: Iterable[str]) -> None:
        super().__init__("; ".join(reasons))


def say(message: str) -> None:
    """Tell the user something that is no data."""
    typer.echo(message, err=True)


class Commands(typer.core.TyperGroup):
    """The commands, with every kind of trouble told in a line and turned into an exit status."""

    def invoke(self, ctx: Any) -> Any:
        try:
            return super().invoke(ctx)
        except NothingReached as trouble:
            say(f"error: nothing asked for can be reached: {trouble}")
            raise typer.Exit(OUT_OF_REACH) from None
        except ReachError as error:
            say(f"error: {error}")
            raise typer.Exit(OUT_OF_REACH) from None
        except StrutsweepError as error:
            say(f"error: {error}")
            raise typer.Exit(WRONG_INPUT) from None
        except KeyboardInterrupt:
            say("interrupted")
            raise typer.Exit(INTERRUPTED) from None
