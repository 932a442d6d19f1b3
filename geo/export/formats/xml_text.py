"""Text and files of XML: what XML 1.0 allows, and nothing that a map program would take for markup."""

import html
import re
from pathlib import Path

from lxml import etree

# XML 1.0 section 2.2: everything but these may stand in a document.
_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def xml_text(text: str) -> str:
    """Give a text without the characters that XML 1.0 forbids (control characters, lone surrogates)."""
    return _FORBIDDEN.sub("\N{REPLACEMENT CHARACTER}", text)


def html_lines(lines: list[str]) -> str:
    """Give lines as HTML for a balloon that renders HTML: every name in them is shown, never run."""
    return "<br/>".join(html.escape(xml_text(line)) for line in lines)


def write_tree(path: Path, root: etree._Element) -> None:
    """Write an element tree as UTF-8 with its declaration."""
    etree.ElementTree(root).write(str(path), encoding="UTF-8", xml_declaration=True, pretty_print=True)
