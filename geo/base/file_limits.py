"""What file formats do to names and text, for whoever writes the files and whoever reads them back."""

from collections.abc import Sequence

# OWASP "CSV Injection": cells that begin with one of these may be run; the last four are the full-width forms.
RISKY_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
LINE_BREAK = " / "
# ESRI Shapefile Technical Description (1998) with dBASE's limits, as GDAL's driver keeps them.
NAME_LETTERS = 10
TEXT_BYTES = 254
CUT_MARK = "..."


def short_names(names: Sequence[str]) -> dict[str, str]:
    """Give each column a name of at most 10 letters: the longest words of a name give letters first; all differ."""
    found: dict[str, str] = {}
    for name in names:
        words = name.split("_")
        while sum(map(len, words)) + len(words) - 1 > NAME_LETTERS:
            longest = max(range(len(words)), key=lambda place: len(words[place]))
            words[longest] = words[longest][:-1]
            words = [word for word in words if word]
        short, number = "_".join(words), 1
        # dBASE does not tell capitals from small letters.
        while short.lower() in {one.lower() for one in found.values()}:
            number += 1
            short = "_".join(words)[: NAME_LETTERS - len(str(number))] + str(number)
        found[name] = short
    return found


def one_line(text: str) -> str:
    """Give a text without line breaks, as it stands in CSV: the reader takes a line break for a lost quote."""
    return LINE_BREAK.join(text.splitlines())
