"""From text to validated, SI-valued objects; every complaint has file, line and column."""
