"""From a template and its values to exactly one page of PDF."""

import re
from base64 import b64encode
from collections.abc import Iterator
from functools import lru_cache
from importlib.resources import files
from io import BytesIO
from typing import Literal

from jinja2 import DictLoader, Environment, StrictUndefined
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from geo.errors import BadArgument, FetchwaterError

Paper = Literal["A4", "Letter"]
PAPERS: tuple[Paper, ...] = ("A4", "Letter")
# Type sizes [pt] that are tried until everything stands on one page; smaller cannot be read in a cockpit.
TYPE_SIZES_PT = (8.5, 7.8, 7.2, 6.8, 6.4)
# What may be left out where nothing else helps stands between two of these comments of a template.
_OPTIONAL = re.compile(r"<!-- if room -->.*?<!-- /if room -->", re.DOTALL)
# Pictures are drawn larger than they are printed (190 mm), so that lines and letters become fine: 12.6 in at this.
PICTURE_WIDTH_IN, PICTURE_DPI = 12.6, 115
_QUALITY = (
    90  # of the JPEG: no visible loss at this size, a third of the bytes of a PNG, and no second coding
)


class SheetTooLong(FetchwaterError):
    """What must stand on the sheet does not fit one page in a readable size."""


@lru_cache(maxsize=1)
def _environment() -> Environment:
    folder = files("geo.export.sheets").joinpath("templates")
    texts = {
        one.name: one.read_text(encoding="utf-8")
        for one in folder.iterdir()
        if one.name.endswith((".html", ".css"))
    }
    return Environment(
        loader=DictLoader(texts),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def picture(height_in: float) -> Figure:
    """Give an empty figure as wide as the page's text that no global plotting state knows of."""
    figure = Figure(figsize=(PICTURE_WIDTH_IN, height_in), dpi=PICTURE_DPI)
    FigureCanvasAgg(figure)
    return figure


def picture_address(figure: Figure) -> str:
    """Give a drawn figure as an address that holds it whole."""
    figure.canvas.draw()  # type: ignore[attr-defined]
    pixels = Image.fromarray(figure.canvas.buffer_rgba()).convert("RGB")  # type: ignore[attr-defined]
    held = BytesIO()
    pixels.save(held, format="JPEG", quality=_QUALITY, subsampling=0)
    return "data:image/jpeg;base64," + b64encode(held.getvalue()).decode()


def one_page(template: str, values: dict, paper: Paper) -> bytes:
    """Give a template filled with values as a PDF of one page, in the largest type that fits.

    Raises: BadArgument for another paper; SheetTooLong when not even the smallest type fits, without what may be left
    out. Nothing is fetched: an address other than of data that the page holds is refused.
    """
    if paper not in PAPERS:
        raise BadArgument(f"paper {paper!r} is not known. Cure: {' or '.join(PAPERS)}")
    # Loaded here: the library takes half a second and only sheets need it.
    from weasyprint import HTML
    from weasyprint.text.fonts import FontConfiguration
    from weasyprint.urls import URLFetcher

    only_held = URLFetcher(allowed_protocols=("data",), fail_on_errors=True)
    page, fonts, pictures = _environment().get_template(template), FontConfiguration(), {}
    for size, whole in _tries():
        text = page.render(values | {"paper": paper, "type_pt": size})
        text = text if whole else _OPTIONAL.sub("", text)
        made = HTML(string=text, url_fetcher=only_held).render(font_config=fonts, cache=pictures)
        if len(made.pages) == 1:
            return made.write_pdf(pdf_variant="pdf/ua-1")
    raise SheetTooLong(
        f"the sheet needs more than one page of {paper} even in {TYPE_SIZES_PT[-1]:g} pt. Cure: shorten the notes on it"
    )


def _tries() -> Iterator[tuple[float, bool]]:
    """Give type sizes, each with whether all is kept: first all, then without what may be left out."""
    yield from ((size, True) for size in TYPE_SIZES_PT[:-1])
    yield from ((size, False) for size in TYPE_SIZES_PT[2:])
