"""The explorer: pages over the engine, and the command line."""
