"""From a template and its values to exactly one page of PDF."""

from base64 import b64encode
from collections.abc import Callable, Sequence
from functools import lru_cache
from importlib.resources import files
from io import BytesIO
from typing import Any

from jinja2 import DictLoader, Environment, StrictUndefined
from matplotlib.figure import Figure
from PIL import Image

from geo.base.errors import BadArgument, MissingLibrary, SheetTooLong
from geo.export.drawing.canvas import new_figure, pixels_of
from geo.records.file_formats import PAPERS, Paper

# Type sizes [pt] that are tried until everything stands on one page; smaller cannot be read in a cockpit.
TYPE_SIZES_PT = (8.5, 7.8, 7.2, 6.8, 6.4)
USUAL_PT = 7.2  # tried first: most sheets fit here or next to it
LEAST_WHOLE_PT = 6.8  # rather than smaller type, the page is asked for without what needs much room
# Pictures are drawn larger than they are printed (190 mm), so that lines and letters become fine: 12.6 in at this.
PICTURE_WIDTH_IN, PICTURE_DPI = 12.6, 115
_QUALITY = (
    90  # of the JPEG: no visible loss at this size, a third of the bytes of a PNG, and no second coding
)


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
    """Give an empty figure as wide as the page's text."""
    return new_figure(PICTURE_WIDTH_IN, height_in, PICTURE_DPI)


def picture_address(figure: Figure) -> str:
    """Give a drawn figure as an address that holds it whole."""
    held = BytesIO()
    Image.fromarray(pixels_of(figure)).save(held, format="JPEG", quality=_QUALITY, subsampling=0)
    return "data:image/jpeg;base64," + b64encode(held.getvalue()).decode()


# Values that take the place of others where the page is too full, made only then, and the smallest type they stand in.
Spare = tuple[Callable[[], dict], float]


def one_page(template: str, values: dict, paper: Paper, spared: Sequence[Spare] = ()) -> bytes:
    """Give a template filled with values as a PDF of one page, in the largest type that fits.

    Parameters: spared, what the page does with less of, in this order, where it does not fit in LEAST_WHOLE_PT; each
    stands beside `values` alone. The template also gets `paper` and `type_pt`.
    Raises: BadArgument for another paper; SheetTooLong when not even the smallest type fits. Nothing is fetched: an
    address other than of data that the page holds is refused.
    """
    if paper not in PAPERS:
        raise BadArgument(f"paper {paper!r} is not known. Fix: {' or '.join(PAPERS)}")
    HTML, FontConfiguration, URLFetcher = _library()
    only_held = URLFetcher(allowed_protocols=("data",), fail_on_errors=True)
    page, fonts = _environment().get_template(template), FontConfiguration()
    pictures: dict[str, Any] = {}

    def laid_out(size: float, less: dict) -> Any:
        text = page.render(values | less | {"paper": paper, "type_pt": size})
        made = HTML(string=text, url_fetcher=only_held).render(font_config=fonts, cache=pictures)
        return made if len(made.pages) == 1 else None

    for give, least_pt in ((dict, LEAST_WHOLE_PT), *spared):
        less = give()
        found = _largest(lambda size, less=less: laid_out(size, less), least_pt)  # type: ignore[misc]
        if found is not None:
            return found.write_pdf(pdf_variant="pdf/ua-1")
    raise SheetTooLong(
        f"the sheet needs more than one page of {paper} even in {TYPE_SIZES_PT[-1]:g} pt. Fix: shorten the notes on it"
    )


def _library() -> tuple[Any, Any, Any]:
    """Load what lays out pages: it takes half a second and only sheets need it. Raises: MissingLibrary."""
    try:
        from weasyprint import HTML
        from weasyprint.text.fonts import FontConfiguration
        from weasyprint.urls import URLFetcher
    except OSError as problem:
        raise MissingLibrary(
            f"sheets need the system library Pango, which this machine lacks ({problem}). Fix: on Debian or Ubuntu, "
            "apt install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core"
        ) from problem
    return HTML, FontConfiguration, URLFetcher


def _largest(laid_out: Callable[[float], Any], least_pt: float) -> Any:
    """Give the page in the largest type that fits, None where none does; each layout takes most of the time."""
    middle = TYPE_SIZES_PT.index(USUAL_PT)
    found = laid_out(USUAL_PT)
    if found is not None:
        for size in reversed(TYPE_SIZES_PT[:middle]):
            larger = laid_out(size)
            if larger is None:
                break
            found = larger
        return found
    smaller = (size for size in TYPE_SIZES_PT[middle + 1 :] if size >= least_pt)
    return next((page for page in map(laid_out, smaller) if page is not None), None)
