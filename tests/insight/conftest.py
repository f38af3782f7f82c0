"""The same small search as the tests of the search look at."""

from tests.search.conftest import scenario, searched

__all__ = ["scenario", "searched"]
