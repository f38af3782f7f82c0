"""The compiler's options, cache and threads, and the loop over designs; knows no physics."""
