"""Workshop: what leaves the screen for the bench; drawings to scale."""
