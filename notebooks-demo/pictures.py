"""Draw the pictures that the README shows, in the order in which it shows them.

    python notebooks-demo/pictures.py
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np

import strutsweep as ss
from strutsweep import plots

PICTURES: Final = Path(__file__).parent / "pictures"
DPI: Final = 120.0
"""Sharp at the width of a README, and small in a repository."""


def draw(folder: Path) -> list[Path]:
    """Draw them all into a folder."""
    corner = ss.demo("gravel_hatch").left
    plane = ss.sweep(corner, mount_in=np.linspace(-20, 20, 101), mount_back=np.linspace(-10, 10, 101))
    positions = ss.sweep(corner, travel=np.linspace(-60, 60, 121), mount_in=np.linspace(-20, 20, 5))
    figures = {
        "mount-map.png": plots.mount_map(plane, readings=("camber", "caster")),
        "against-travel.png": plots.against_travel(positions, readings=("camber", "toe", "caster")),
        "three-views.png": plots.three_views(corner),
    }
    folder.mkdir(exist_ok=True)
    return [plots.save(figure, folder / name, dpi=DPI) for name, figure in figures.items()]


if __name__ == "__main__":
    for path in draw(PICTURES):
        print(f"{path.name}: {path.stat().st_size / 1000:.0f} kB")
