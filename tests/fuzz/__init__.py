"""Whatever is read from outside, read with all that it should not be."""
