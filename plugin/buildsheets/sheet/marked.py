"""A builder's own Markdown inside a sheet, cleaned of all that could do more than be read."""

from __future__ import annotations

from functools import cache

import markdown
import nh3
from markupsafe import Markup

KEPT = {"p", "br", "em", "strong", "code", "ul", "ol", "li", "a"}
"""What a step of work needs; headings and pictures would upset the sheet's own order."""


@cache
def _reader() -> markdown.Markdown:
    return markdown.Markdown(output_format="html")


def marked(text: str) -> Markup:
    """Return Markdown as HTML that holds no script, no style, no picture and no address but of pages and mail.

    Parameters
    ----------
    text : str
        Words from a record.
    """
    html = _reader().reset().convert(text)
    cleaned = nh3.clean(
        html, tags=KEPT, attributes={"a": {"href"}}, url_schemes={"http", "https", "mailto"}, link_rel="noopener noreferrer"
    )
    return Markup(cleaned)
