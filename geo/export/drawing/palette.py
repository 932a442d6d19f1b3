"""Colours and marks that all exports share, safe for colour-blind eyes, and never colour alone.

References: M. Okabe, K. Ito, "Color Universal Design" (2008), the eight-colour set; hexadecimal values as published.
"""

from dataclasses import dataclass

BLACK = "#000000"
ORANGE = "#E69F00"
SKY_BLUE = "#56B4E9"
BLUISH_GREEN = "#009E73"
YELLOW = "#F0E442"
BLUE = "#0072B2"
VERMILLION = "#D55E00"
REDDISH_PURPLE = "#CC79A7"
GREY = "#8A8A8A"  # not of the set; for what is out of play


@dataclass(frozen=True)
class Mark:
    """How one state is drawn: a colour, a hatch and a marker for plots, and a simple marker name for map styles."""

    label: str
    colour: str
    hatch: str
    plot_marker: str
    style_marker: str
    fill_pattern: str


# "usable" only for what is usable AND ranked; whatever is not known to be good falls to the last.
USABLE = Mark("usable", BLUE, "", "o", "circle", "solid")
SURVEY_FIRST = Mark("survey first", ORANGE, "///", "^", "triangle", "f_diagonal")
NOT_USABLE = Mark("not usable or left out", GREY, "xxx", "X", "cross_fill", "diagonal_x")
NOT_ASSESSED = Mark("not assessed", GREY, "...", "s", "square", "dense7")
MARKS = (USABLE, SURVEY_FIRST, NOT_USABLE, NOT_ASSESSED)


def mark_of(verdict: str | None, ranked: bool) -> Mark:
    """Give the mark of a water body. A usable body that is not in the ranking is marked as left out."""
    if verdict is None:
        return NOT_ASSESSED
    if verdict == "usable" and ranked:
        return USABLE
    return SURVEY_FIRST if verdict == "survey first" else NOT_USABLE
