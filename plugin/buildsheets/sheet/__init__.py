"""Charts, templates and style: reads figures, computes nothing."""
