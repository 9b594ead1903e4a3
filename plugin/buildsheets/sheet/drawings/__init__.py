"""Drawings of a sheet, as SVG that follows the page: reads figures, computes no physics."""
