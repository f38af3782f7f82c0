"""The licences of what the users' lock file installs, as the packages state them, for ``explorer/LICENCES.md``.

Run with ``python -m tests.licences`` after the lock file has changed; a test holds the list equal to what is installed.
"""

from __future__ import annotations

import re
from importlib.metadata import metadata
from pathlib import Path

ROOT = Path(__file__).parents[1]
LIST = ROOT / "explorer" / "LICENCES.md"
_LINE = re.compile(r"^([a-z0-9-]+)==(\S+)", re.MULTILINE)
_LONGEST = 60  # characters of a licence that is named; what is longer is its text
# Which licence it is whose text alone a package states.
_BY_ITS_TEXT = {"graphemeu": "MIT"}
_CLASS = "License :: OSI Approved :: "
HEAD = """# Licences

wedgefront itself is under the MIT licence. It is shipped with nothing inside; `requirements.lock` installs these beside
it, each under the licence that it states:

| package | version | licence |
|---|---|---|
"""


def licence_of(package: str) -> str:
    """The licence that an installed package states: an expression, else a name, else its class on the index."""
    stated = metadata(package)
    named = (stated.get("License") or "").strip()
    classes = [each.removeprefix(_CLASS) for each in stated.get_all("Classifier") or [] if each.startswith(_CLASS)]
    if expression := stated.get("License-Expression"):
        return expression
    if named and len(named) < _LONGEST and "\n" not in named:
        return named
    return ", ".join(classes) or _BY_ITS_TEXT[package]


def listed() -> str:
    """The list as it should stand."""
    locked = _LINE.findall((ROOT / "requirements.lock").read_text(encoding="utf-8"))
    return HEAD + "".join(f"| {package} | {version} | {licence_of(package)} |\n" for package, version in locked)


if __name__ == "__main__":
    LIST.write_text(listed(), encoding="utf-8")
    print(f"{LIST} written")
