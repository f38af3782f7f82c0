"""Search: variables in, objectives and constraints out, and the front that comes of it."""
