"""A content security policy for a finished page: only the theme's own scripts run, and nothing is asked of other servers.

W3C, Content Security Policy Level 3. The policy stands in the page itself, for a club's pages are plain files: whoever
serves them sends no header.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Iterable
from functools import lru_cache
from hashlib import sha256

RULES = (
    ("default-src", "'none'"),
    ("script-src", "'self'"),
    # drawings set their colours, and sheets their printed margins, in attributes and elements of the page
    ("style-src", "'self' 'unsafe-inline'"),
    ("img-src", "'self' data:"),
    ("font-src", "'self'"),
    ("media-src", "'self'"),
    ("manifest-src", "'self'"),
    ("connect-src", "'self'"),  # the search fetches its index
    ("worker-src", "'self'"),  # and runs in a worker
    ("base-uri", "'none'"),
    ("form-action", "'self'"),
)

_OPENING, _CLOSING = "<script", "</script"
# Without a source, and of a kind that runs: blocks of data need no leave.
_FETCHED = re.compile(r"\ssrc\s*=")
_DATA = re.compile(r"""\stype\s*=\s*["']?(?:application|text)/(?!javascript|ecmascript)""")
_HEAD = re.compile(r"""<head\b[^>]*>(?:\s*<meta\s+charset[^>]*>)?""")


def inline_scripts(page: str) -> list[str]:
    """Return the scripts that are written out in a page, or in a piece of one.

    Only tags in small letters are found: what a theme writes. Others get no leave to run.

    Parameters
    ----------
    page : str
        HTML.
    """
    found = []
    start = page.find(_OPENING)
    while start >= 0:
        opened = page.find(">", start)
        end = page.find(_CLOSING, opened)
        if opened < 0 or end < 0:
            break
        tag = page[start:opened]
        if not _FETCHED.search(tag) and not _DATA.search(tag):
            found.append(page[opened + 1 : end])
        start = page.find(_OPENING, end)
    return found


def guarded(page: str, scripts: Iterable[str]) -> str | None:
    """Return a page with the policy in its head; None for what has no head.

    Parameters
    ----------
    page : str
        The whole page, as it will be published.
    scripts : iterable of str
        The inline scripts that may run, from `inline_scripts`.
    """
    head = _HEAD.search(page)
    if head is None:
        return None
    policy = f'\n<meta http-equiv="Content-Security-Policy" content="{_leave(tuple(sorted(set(scripts))))}">'
    return page.replace(head[0], head[0] + policy, 1)  # many times quicker than to put a long page together from two pieces


@lru_cache(maxsize=64)
def _leave(scripts: tuple[str, ...]) -> str:
    """Return the policy that lets these scripts run; the same for all pages of one depth."""
    hashes = "".join(f" '{_hash(script)}'" for script in scripts)
    return "; ".join(f"{name} {value}{hashes if name == 'script-src' else ''}" for name, value in RULES)


def _hash(script: str) -> str:
    text = script.replace("\r\n", "\n").replace("\r", "\n")  # as a browser reads it
    return "sha256-" + b64encode(sha256(text.encode("utf-8")).digest()).decode("ascii")
