"""Run by the system's Python, which alone knows QGIS: opens a layer of the features, counts, draws. Prints JSON."""

import json
import os
import sys

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
from qgis.core import (
    QgsApplication,
    QgsMapRendererParallelJob,
    QgsMapSettings,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QSize
from qgis.PyQt.QtGui import QColor


def main(address: str, layer_id: str, picture: str) -> None:
    application = QgsApplication([], False)
    application.initQgis()
    # "true", not "enabled": QGIS 3.22 reads the newer word as off and stops after the first page.
    uri = (
        f"url='{address}' typename='{layer_id}' version='OGC_API_FEATURES' restrictToRequestBBOX='1' "
        "pagingEnabled='true' pageSize='7'"
    )
    layer = QgsVectorLayer(uri, layer_id, "OAPIF")
    found = {
        "valid": layer.isValid(),
        "crs": layer.crs().authid(),
        "fields": [f.name() for f in layer.fields()],
    }
    found["features"] = sorted(feature["body_id"] for feature in layer.getFeatures())
    settings = QgsMapSettings()
    settings.setLayers([layer])
    settings.setDestinationCrs(layer.crs())
    settings.setBackgroundColor(QColor("white"))
    settings.setOutputSize(QSize(400, 400))
    settings.setExtent(layer.extent())
    job = QgsMapRendererParallelJob(settings)
    job.start()
    job.waitForFinished()
    image = job.renderedImage()
    image.save(picture)
    white = QColor("white").rgb()
    found["drawn"] = sum(image.pixel(x, y) != white for x in range(400) for y in range(400))
    # Before QGIS itself ends, or the process does not end cleanly.
    del job, settings, layer
    application.exitQgis()
    print(json.dumps(found))


if __name__ == "__main__":
    main(*sys.argv[1:])
