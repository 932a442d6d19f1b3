"""Sheets as pictures, to compare with accepted ones; `python tests/export/sheet_pictures.py` accepts the present."""

import subprocess
import sys
import tempfile
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
from PIL import Image

ACCEPTED = Path(__file__).resolve().parent / "accepted"
DOTS_PER_INCH = 60
CELL_PX = 4  # pictures are compared cell by cell: the renderer's own smoothing must not decide
# Another version of renderer or letters moves some cells a little; a row that is gone moves many by much.
GREY_STEPS, MOST_CHANGED = 20.0, 0.004


def drawn(pdf: bytes) -> np.ndarray:
    """Give the page as grey cells, 0 (black) to 255."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "page.pdf"
        path.write_bytes(pdf)
        command = ["pdftoppm", "-r", str(DOTS_PER_INCH), "-gray", "-png", "-singlefile", str(path), str(path)]
        subprocess.run(command, check=True)
        return cells(Image.open(f"{path}.png"))


def cells(picture: Image.Image) -> np.ndarray:
    """Give a picture as the mean grey of its cells."""
    size = picture.width // CELL_PX, picture.height // CELL_PX
    return np.asarray(picture.convert("L").resize(size, Image.Resampling.BOX), float)


def share_changed(one: np.ndarray, other: np.ndarray) -> float:
    """Give the share of the cells that differ by more than GREY_STEPS."""
    assert one.shape == other.shape, f"another size of page: {one.shape}, {other.shape}"
    return float((np.abs(one - other) > GREY_STEPS).mean())


def accepted(name: str) -> np.ndarray:
    """Give the accepted cells of a sheet."""
    return np.asarray(Image.open(ACCEPTED / f"{name}.png"), float)


def sample_sheets(drop_a_source: bool = False) -> dict[str, bytes]:
    """Give the sheets of the fixed sample records by name."""
    import export_samples as samples

    from geo.export.sheets.ranking_sheet import ranking_sheet
    from geo.export.sheets.water_sheet import water_sheet
    from geo.ranking.statements import GENERAL_CAUTIONS

    region = samples.region()
    ranking = replace(samples.ranking(region), cautions=GENERAL_CAUTIONS)
    if drop_a_source:
        ranking = replace(ranking, sources=tuple(one for one in ranking.sources if one.rank != 4))
    record = samples.with_ways(samples.survey(region).bodies[0])
    day = date(2026, 1, 20)
    return {
        "ranking_A4": ranking_sheet(region, ranking),
        "water_A4": water_sheet(region, record, GENERAL_CAUTIONS, day=day),
        "water_Letter": water_sheet(region, record, GENERAL_CAUTIONS, day=day, paper="Letter"),
    }


if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).resolve().parents[2])]
    ACCEPTED.mkdir(exist_ok=True)
    for sheet, made in sample_sheets().items():
        Image.fromarray(np.round(drawn(made)).astype(np.uint8)).save(ACCEPTED / f"{sheet}.png", optimize=True)
