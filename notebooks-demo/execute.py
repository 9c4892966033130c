"""Execute every notebook of this folder in place, so that it shows what the package gives today.

    python notebooks-demo/execute.py

The same package gives the same file: no times, no versions and no paths are kept. Figures keep their size and lose
colours that nobody sees, which makes them a third as large.
"""

from __future__ import annotations

import base64
import io
import os
from pathlib import Path
from typing import Final

import nbformat
from nbclient import NotebookClient
from PIL import Image

KERNEL: Final = "python3"
TIMEOUT_S: Final = 120
COLOURS: Final = 128
"""Enough for a figure's plain colours and the soft edges of its letters."""


def execute(path: Path) -> None:
    """Execute one notebook in place; a cell that fails raises, and the file stays as it was."""
    notebook = nbformat.read(path, as_version=nbformat.NO_CONVERT)
    client = NotebookClient(
        notebook,
        kernel_name=KERNEL,
        timeout=TIMEOUT_S,
        record_timing=False,
        resources={"metadata": {"path": str(path.parent)}},
    )
    # A warning shall stand in the notebook, where somebody sees it.
    client.execute(env={**os.environ, "PYTHONWARNINGS": "default"})
    clean(notebook)
    nbformat.validate(notebook)
    nbformat.write(notebook, path)


def clean(notebook: nbformat.NotebookNode) -> None:
    """Leave nothing in a notebook that depends on the machine or the hour."""
    notebook.metadata = nbformat.NotebookNode(
        kernelspec={"display_name": "Python 3", "language": "python", "name": KERNEL},
        language_info={"name": "python"},
    )
    for number, cell in enumerate(notebook.cells, 1):
        cell.id = f"cell-{number:02d}"
        cell.metadata = nbformat.NotebookNode()
        if "outputs" in cell:
            cell.outputs = joined(cell.outputs)
        for output in cell.get("outputs", []):
            if "image/png" in output.get("data", {}):
                output.data["image/png"] = fewer_colours(output.data["image/png"])


def joined(outputs: list[nbformat.NotebookNode]) -> list[nbformat.NotebookNode]:
    """Outputs with what a cell printed in one piece: how often a kernel flushes depends on the hour."""
    kept: list[nbformat.NotebookNode] = []
    for output in outputs:
        last = kept[-1] if kept else None
        if last is not None and output.output_type == "stream" == last.output_type and output.name == last.name:
            last.text += output.text
        else:
            kept.append(output)
    return kept


def fewer_colours(encoded: str) -> str:
    """A PNG in base64 with a palette of its own, and without the words that its writer left in it."""
    picture = Image.open(io.BytesIO(base64.b64decode(encoded)))
    # A figure's ground may be see-through, and a notebook's page may be dark.
    paper = Image.new("RGBA", picture.size, "white")
    flat = Image.alpha_composite(paper, picture.convert("RGBA")).convert("RGB")
    buffer = io.BytesIO()
    flat.quantize(COLOURS, dither=Image.Dither.NONE).save(buffer, format="png", optimize=True)
    return base64.b64encode(buffer.getvalue()).decode("ascii")


def main() -> None:
    """Execute them all."""
    for path in sorted(Path(__file__).parent.glob("*.ipynb")):
        execute(path)
        print(f"{path.name}: {path.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
