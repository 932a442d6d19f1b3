"""Run by the system's Python, which alone knows QGIS: opens each layer of a GeoPackage as QGIS does. Prints JSON."""

import json
import os
import sys

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
from qgis.core import QgsApplication, QgsMapRendererParallelJob, QgsMapSettings, QgsVectorLayer
from qgis.PyQt.QtCore import QSize
from qgis.PyQt.QtGui import QColor

SIDE = 500


def described(layer) -> dict:
    """What QGIS made of a layer and of the style that it found in the file."""
    renderer = layer.renderer()
    found = {
        "valid": layer.isValid(),
        "crs": layer.crs().authid(),
        "count": layer.featureCount(),
        "renderer": renderer.type(),
        "labels": layer.labelsEnabled(),
        "label": layer.labeling().settings().fieldName if layer.labelsEnabled() else None,
    }
    if renderer.type() == "categorizedSymbol":
        found["attribute"] = renderer.classAttribute()
        found["colours"] = {one.value(): one.symbol().color().name() for one in renderer.categories()}
    return found


def drawn_colours(layers, picture: str) -> list[str]:
    """Draw layers on white, save the picture and give the colours met in at least 20 points."""
    settings = QgsMapSettings()
    settings.setLayers(layers)
    settings.setDestinationCrs(layers[0].crs())
    settings.setBackgroundColor(QColor("white"))
    settings.setOutputSize(QSize(SIDE, SIDE))
    extent = layers[-1].extent()
    extent.scale(1.2)
    settings.setExtent(extent)
    job = QgsMapRendererParallelJob(settings)
    job.start()
    job.waitForFinished()
    image = job.renderedImage()
    image.save(picture)
    counts = {}
    for x in range(SIDE):
        for y in range(SIDE):
            name = QColor(image.pixel(x, y)).name()
            counts[name] = counts.get(name, 0) + 1
    del job
    return sorted(name for name, count in counts.items() if count >= 20)


def main(file: str, picture: str, *names: str) -> None:
    """Open, describe and draw the layers; the last named lies lowest."""
    application = QgsApplication([], False)
    application.initQgis()
    layers = [QgsVectorLayer(f"{file}|layername={name}", name, "ogr") for name in names]
    found = {layer.name(): described(layer) for layer in layers}
    found["drawn"] = drawn_colours(layers, picture)
    # Before QGIS itself ends, or the process does not end cleanly.
    del layers
    application.exitQgis()
    print(json.dumps(found))


if __name__ == "__main__":
    main(*sys.argv[1:])
