"""The theme's templates as compiled, kept for the next build: compiling them again takes as long as a dozen pages."""

from __future__ import annotations

from contextlib import suppress

from jinja2 import BytecodeCache, Environment, TemplateError
from jinja2.bccache import Bucket

from buildsheets.cache import Cache, key_of, packed

TEMPLATES = "templates"
"""Kind of entry: one compiled template."""
CODE = "code"


class CompiledTemplates(BytecodeCache):
    """Compiled templates by their name and source.

    Parameters
    ----------
    cache : Cache
        Where they are kept; what it gives back is whole, which a file read straight from the disk need not be.
    """

    def __init__(self, cache: Cache) -> None:
        self._cache = cache

    def load_bytecode(self, bucket: Bucket) -> None:
        """Fill a bucket with what was kept for its template, if anything was."""
        entry = self._cache.read(TEMPLATES, key_of(bucket.key, bucket.checksum))
        if entry is not None:
            bucket.bytecode_from_string(entry.pieces[CODE])  # looks itself whether interpreter and library are the same

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what a bucket holds."""
        self._cache.write(TEMPLATES, key_of(bucket.key, bucket.checksum), packed({}, {CODE: bucket.bytecode_to_string()}))


def compile_ahead(environment: Environment, cache: Cache) -> None:
    """Compile what pages of a theme are put together from; the build finds it in the cache.

    Parameters
    ----------
    environment : Environment
        Of the theme; of no use for rendering afterwards.
    cache : Cache
        Where the templates are kept.
    """
    environment.bytecode_cache = CompiledTemplates(cache)
    for name in environment.list_templates(filter_func=_part_of_a_page):
        with suppress(TemplateError):  # one that wants what only another plugin brings
            environment.get_template(name)


def _part_of_a_page(name: str) -> bool:
    """Whether a template is a page's, or a part that stands in many, not one language or one host among dozens."""
    return name.endswith(".html") and ("/" not in name or (name.startswith("partials/") and name.count("/") == 1))
