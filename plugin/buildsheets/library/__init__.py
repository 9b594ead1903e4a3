"""What spans builds: the index of the library."""
