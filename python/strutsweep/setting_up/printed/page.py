"""A work order as one HTML page."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Final

from jinja2 import Environment, StrictUndefined, Template

from strutsweep.cautions import CAUTIONS, CAUTIONS_TITLE
from strutsweep.setting_up.printed.content import content_of
from strutsweep.setting_up.printed.terminal import FOOTNOTE
from strutsweep.setting_up.quantities import AngleForm
from strutsweep.setting_up.work import WorkOrder

__all__ = ["html_fragment", "html_page"]

_FOLDER: Final = "strutsweep.setting_up.printed"


@cache
def _template(name: str) -> Template:
    # Names and notes are a user's own text: whatever stands in them is shown, never read as HTML.
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    return environment.from_string(files(_FOLDER).joinpath(name).read_text(encoding="utf-8"))


def html_page(order: WorkOrder, *, angles: AngleForm = "degrees", toe_diameter: float | None = None) -> str:
    """The whole page: style and all in one text."""
    return _template("page.html").render(
        content=content_of(order, angles=angles, toe_diameter=toe_diameter),
        body=html_fragment(order, angles=angles, toe_diameter=toe_diameter),
        style=files(_FOLDER).joinpath("page.css").read_text(encoding="utf-8"),
    )


def html_fragment(order: WorkOrder, *, angles: AngleForm = "degrees", toe_diameter: float | None = None) -> str:
    """What stands within the page, for a notebook."""
    return _template("order.html").render(
        content=content_of(order, angles=angles, toe_diameter=toe_diameter),
        cautions=CAUTIONS,
        cautions_title=CAUTIONS_TITLE,
        footnote=FOOTNOTE,
        style=files(_FOLDER).joinpath("page.css").read_text(encoding="utf-8"),
    )
