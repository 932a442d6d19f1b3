"""How the worker process is shut in: GDAL's allow-list, no network, memory and time limits."""

import contextlib
import ctypes
import os
import sys
from pathlib import Path

ALLOWED_DRIVERS = frozenset(
    {"GPKG", "ESRI Shapefile", "GeoJSON", "KML", "LIBKML", "FlatGeobuf", "GTiff", "COG", "MEM"}
)

# Every other driver of the GDAL builds in use (3.10 and 3.12). A build that brings more is noticed at start
# (`forbidden_drivers`) and the worker starts itself again with the longer list.
SKIPPED_DRIVERS = """
AAIGrid,ACE2,ADBC,ADRG,AIG,AIVector,AVCBin,AVCE00,AirSAR,AmigoCloud,BAG,BIGGIF,BLX,BMP,BSB,BT,BYN,CALS,CEOS,COASP,
COSAR,CPG,CSV,CSW,CTG,CTable2,Carto,DAAS,DERIVED,DGN,DIMAP,DIPEx,DOQ1,DOQ2,DTED,DXF,ECRGTOC,EDIGEO,EEDA,EEDAI,EHdr,
EIR,ELAS,ENVI,ERS,ESAT,ESRIC,ESRIJSON,Elasticsearch,FAST,FIT,GDALG,GFF,GIF,GML,GNMDatabase,GNMFile,GPSBabel,GPX,
GRASSASCIIGrid,GRIB,GS7BG,GSAG,GSBG,GSC,GTFS,GTI,GTX,GXF,GenBin,GeoJSONSeq,GeoRSS,HDF5,HDF5Image,HF2,HFA,HTTP,ILWIS,
IRIS,ISCE,ISG,ISIS2,ISIS3,Idrisi,JAXAPALSAR,JDEM,JML,JP2OpenJPEG,JPEG,JSONFG,KMLSUPEROVERLAY,KRO,L1B,LAN,LCP,LOSLAS,
LVBAG,Leveller,MAP,MBTiles,MFF,MFF2,MRF,MSGN,MVT,MapInfo File,MapML,Memory,MiraMonVector,NDF,NGSGEOID,NGW,NITF,NOAA_B,
NSIDCbin,NTv2,NWT_GRC,NWT_GRD,OAPIF,ODS,OGCAPI,OGR_GMT,OGR_PDS,OGR_VRT,OSM,OZI,OpenFileGDB,PAux,PCIDSK,PCRaster,PDF,
PDS,PDS4,PGDUMP,PLMOSAIC,PLSCENES,PMTiles,PNG,PNM,PRF,R,RIK,RMF,ROI_PAC,RPFTOC,RRASTER,RS2,RST,Rasterlite,S102,S104,
S111,S57,SAFE,SAGA,SAR_CEOS,SDTS,SENTINEL2,SGI,SIGDEM,SNAP_TIFF,SNODAS,SQLite,SRP,SRTMHGT,STACIT,STACTA,SXF,Selafin,
TGA,TIL,TSX,Terragen,TopoJSON,USGSDEM,VDV,VFK,VICAR,VRT,WAsP,WCS,WEBP,WFS,WMS,WMTS,XLSX,XPM,XYZ,ZMap,Zarr,netCDF
""".replace("\n", "")

MEMORY_LIMIT_BYTES = 4 * 1024**3
FILE_SIZE_LIMIT_BYTES = 1024**3
NEW_USER_AND_NETWORK_NAMESPACE = 0x10000000 | 0x40000000  # CLONE_NEWUSER | CLONE_NEWNET, linux/sched.h


def worker_environment(scratch: Path) -> dict[str, str]:
    """Give the whole environment of the worker; nothing of the caller's own environment goes in."""
    package_root = Path(__file__).resolve().parents[3]
    return {
        "PATH": os.defpath,
        "PYTHONPATH": str(package_root),
        "PYTHONDONTWRITEBYTECODE": "1",
        "TMPDIR": str(scratch),
        "LANG": "C.UTF-8",
        "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
        "GDAL_SKIP": SKIPPED_DRIVERS,
        "GDAL_PAM_ENABLED": "NO",
        "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
        "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".none",
        "GDAL_HTTP_PROXY": "http://127.0.0.1:9",
        "GDAL_VRT_ENABLE_PYTHON": "NO",
        "GDAL_VRT_ENABLE_RAWRASTERBAND": "NO",
        "GDAL_DRIVER_PATH": "disable",
        "OGR_GEOJSON_MAX_OBJ_SIZE": "200",
        "PROJ_NETWORK": "OFF",
        "GDAL_CACHEMAX": "64",
    }


def shut_in() -> None:
    """Limit this process (the worker, before it imports GDAL): no network where the kernel allows, memory, file size.

    Notes: the network namespace is a second line behind the driver list; a kernel or container that forbids it is
    accepted in silence. Limits come from the POSIX `resource` module and do not exist on Windows.
    """
    with contextlib.suppress(AttributeError, OSError):
        if sys.platform == "linux":
            ctypes.CDLL(None).unshare(NEW_USER_AND_NETWORK_NAMESPACE)
    with contextlib.suppress(ImportError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_LIMIT_BYTES, MEMORY_LIMIT_BYTES))
        resource.setrlimit(resource.RLIMIT_FSIZE, (FILE_SIZE_LIMIT_BYTES, FILE_SIZE_LIMIT_BYTES))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def forbidden_drivers() -> list[str]:
    """Name the drivers that GDAL has loaded in this process though they are not allowed."""
    import pyogrio
    import rasterio

    with rasterio.Env() as environment:
        loaded = set(environment.drivers()) | set(pyogrio.list_drivers())
    return sorted(loaded - ALLOWED_DRIVERS)


def restart_without(drivers: list[str]) -> None:
    """Start this process again with more drivers skipped; never returns.

    Raises: RuntimeError when that was tried before.
    """
    if os.environ.get("FETCHWATER_WORKER_RESTARTED") == "1":
        raise RuntimeError(f"GDAL keeps the drivers {drivers}, which must not open user files")
    skipped = ",".join([os.environ.get("GDAL_SKIP", ""), *drivers])
    environment = os.environ | {"GDAL_SKIP": skipped, "FETCHWATER_WORKER_RESTARTED": "1"}
    os.execve(sys.executable, [sys.executable, "-m", "geo.ingest.files.worker"], environment)
