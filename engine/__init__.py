"""wedgefront's engine: a measured space and a driver in, a front of designs out.

SI units throughout; a batch of designs runs along the first axis and frequency
along the last.  Nothing here knows of a screen.
"""
