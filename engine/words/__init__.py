"""Sentences: what faults and impossible searches say, in the words of a file or of a form, in the user's units."""
