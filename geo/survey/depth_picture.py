"""What is known of a water's depth, as two rasters to be drawn: the expected depth today and how unsure it is."""

from dataclasses import replace

import numpy as np
import shapely

from geo.base.grid import Grid
from geo.records.chart import DepthChart
from geo.records.region import DepthGrid, Soundings, WaterBody
from geo.records.survey import DepthPicture, SurveySettings
from geo.survey.body import as_of_day
from geo.survey.depth.model import DepthModel, depth_model
from geo.survey.depth.raster import raster_sd_m

# Cells of a picture made from a depth raster: enough for a page.
CELLS = 20_000


def depth_picture(
    body: WaterBody,
    soundings: Soundings | None,
    depth_grid: DepthGrid | None,
    settings: SurveySettings,
    chart: DepthChart | None = None,
) -> DepthPicture | None:
    """Give expected depth and its one sigma on a raster; None where no survey knows the bed.

    Notes: from the soundings' field where there is one, else from the depth raster, else from the contours; NaN outside
    the outline, where nothing is known, and where the expected depth today is not above 0.
    """
    model = depth_model(body, soundings, depth_grid, as_of_day(settings), chart)
    if model.evidence is not None and model.field.process is not None:
        return _wet(model.field.mean, model.field.sd, "soundings")
    if model.depth_grid is not None and model.bed_source()[0] == "depth grid":
        return _wet(*_raster(model), "depth raster")
    contours = model.contour_field()
    if contours is not None and model.charted is not None:
        common = model.charted.common_sd_m(contours.mean.values - model.level_m)
        sd = replace(contours.sd, values=np.hypot(contours.sd.values, common))
        return _wet(contours.mean, sd, "depth contours")
    return None


def _wet(mean: Grid, sd: Grid, origin: str) -> DepthPicture:
    dry = ~(mean.values > 0.0)
    layers = [replace(one, values=np.where(dry, np.nan, one.values)) for one in (mean, sd)]
    return DepthPicture(layers[0], layers[1], origin)


def _raster(model: DepthModel) -> tuple[Grid, Grid]:
    assert model.depth_grid is not None
    polygon, source = model.body.polygon, model.depth_grid.grid
    west, south, east, north = polygon.bounds
    cell_m = max(float(np.sqrt((east - west) * (north - south) / CELLS)), source.cell_east_m)
    columns, rows = (max(int(np.ceil(side / cell_m)), 1) for side in (east - west, north - south))
    x, y = np.meshgrid(west + (np.arange(columns) + 0.5) * cell_m, north - (np.arange(rows) + 0.5) * cell_m)
    depth = np.where(shapely.contains_xy(polygon, x, y), source.nearest(x, y), np.nan)
    sd = raster_sd_m(model.depth_grid, depth)
    return Grid(depth + model.level_m, west, north, cell_m, cell_m), Grid(sd, west, north, cell_m, cell_m)
