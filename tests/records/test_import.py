from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

PLUGIN = Path(__file__).parents[2] / "plugin"


def test_reading_records_loads_nothing_heavy() -> None:
    """A check of one record must start fast: no arrays, no charts, no units library, no site generator."""
    code = (
        "import sys, buildsheets.records.library, buildsheets.records.schema, buildsheets.records.starter;"
        "print(sorted({'numpy', 'scipy', 'matplotlib', 'pint', 'mkdocs', 'jinja2'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, text=True, env={**os.environ, "PYTHONPATH": str(PLUGIN)}
    )
    assert done.stdout.strip() == "[]"
