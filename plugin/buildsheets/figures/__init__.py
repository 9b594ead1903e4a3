"""From a validated build to its figures: the one place that knows both sides."""
