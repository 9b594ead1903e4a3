"""The theme's templates as compiled, kept for the next build: compiling them again takes as long as a dozen pages."""

from __future__ import annotations

from jinja2 import BytecodeCache
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
