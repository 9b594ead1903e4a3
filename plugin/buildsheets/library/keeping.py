"""Parts of the library's pages, kept from one edition to the next: a line of the list, a pair, the page of a part.

When one record changes, nearly all of these stay as they are, and they are most of what such pages cost.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from markupsafe import Markup

from buildsheets.cache import Cache, key_of, parts_of, program_print
from buildsheets.settings import Settings

PASSAGES = "passages"
"""Kind of entry: the passages of the last edition under one set of choices."""


class Passages:
    """Ready HTML by what it was made from.

    Parameters
    ----------
    cache : Cache, optional
        Where it is kept; by default as long as this object lives.
    settings : Settings, optional
        The club's choices, which every passage is made from.
    """

    def __init__(self, cache: Cache | None = None, settings: Settings | None = None) -> None:
        self._cache = cache
        self._key = key_of(program_print(), settings) if cache is not None else ""
        entry = cache.read(PASSAGES, self._key) if cache is not None else None
        self._before: Mapping[str, bytes] = entry.pieces if entry else {}
        self._now: dict[str, bytes] = {}  # as bytes, of which there are fewer than a text's letters take

    def has(self, *made_of: object) -> bool:
        """Whether a passage is there.

        Parameters
        ----------
        *made_of : object
            As for `passage`.
        """
        return key_of(*made_of) in self._before

    def passage(self, make: Callable[[], str], *made_of: object) -> Markup:
        """Return a passage, made only if it is not there.

        Parameters
        ----------
        make : callable
            Returns its HTML.
        *made_of : object
            What it is made from beside program and settings; their `repr` must tell all of it.
        """
        key = key_of(*made_of)
        found = self._before.get(key)
        text = str(make()) if found is None else found.decode("utf-8", "surrogatepass")
        self._now[key] = text.encode("utf-8", "surrogatepass") if found is None else found
        return Markup(text)

    def keep(self) -> None:
        """Keep what this edition used, and nothing else."""
        if self._cache is not None and self._now.keys() != self._before.keys():
            self._cache.write(PASSAGES, self._key, parts_of({}, self._now))
