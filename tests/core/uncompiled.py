"""The same functions run by Python itself, in a process where nothing is compiled."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np

from engine.arrays import Floats

ROOT = Path(__file__).resolve().parents[2]


def uncompiled(module: str, function: str, folder: Path) -> dict[str, Floats]:
    """What ``function`` of a test's ``module`` gives there, arrays by name; ``folder`` takes what is handed over."""
    script = f"""if True:
        import sys, numpy as np
        from engine.core.compiled import ENABLED
        from {module} import {function}
        assert not ENABLED
        np.savez(sys.argv[1], **{function}())
    """
    environment = {**os.environ, "WEDGEFRONT_COMPILER": "off", "PYTHONPATH": str(ROOT)}
    given = folder / "plain.npz"
    subprocess.run([sys.executable, "-c", script, str(given)], check=True, cwd=ROOT, env=environment)
    with np.load(given) as plain:
        return dict(plain)
