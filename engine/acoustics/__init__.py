"""Acoustics: the lumped low-frequency model, in batches (Thiele 1971; Small 1972, 1973)."""
