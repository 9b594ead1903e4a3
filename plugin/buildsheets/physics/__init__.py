"""Pure functions on numbers and arrays, SI throughout: the model behind a sheet."""
