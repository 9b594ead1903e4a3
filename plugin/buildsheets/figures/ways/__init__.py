"""Ways to the target: what else could be done to the build, weighed like a member of the club would."""

from buildsheets.figures.ways.options import WaysOptions
from buildsheets.figures.ways.rows import ways_figures

__all__ = ["WaysOptions", "ways_figures"]
