"""Build sheets for model locomotive conversions, calculated from one record per locomotive."""

from __future__ import annotations

__version__ = "0.1.0"
