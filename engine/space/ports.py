"""Where the drivers and openings of laid-out boxes lie in the air inside, for its inertia.

Places are in the cavity's axes (``engine.acoustics.cavity``): from the inner face of the left side, and from the
inner bottom back corner.
"""

from __future__ import annotations

from typing import get_type_hints

import numpy as np

from engine.acoustics.cavity import Cavities, Ports
from engine.packing.ports import Port
from engine.space.layout import Layout


def ports_of(layout: Layout) -> tuple[Cavities, Ports]:
    """The air inside N laid-out boxes and its ports: openings first, then drivers.

    Radii of cones are those of their cut-outs, which the cone's own area replaces where it is known
    (``cavity.thin_box``).  A flared mouth counts as one as wide as its flare.  Made for
    layouts whose slacks are all ≥ 0; others get places too, some of them outside the box.
    """
    wedges, found = layout.wedges, layout.across.ports
    inner = wedges.inner_section
    cavities = Cavities(
        width=wedges.inner_width,
        height=wedges.inner_height,
        bottom_depth=inner[:, 1, 0] - inner[:, 0, 0],
        top_depth=inner[:, 2, 0] - inner[:, 3, 0],
        back_slope=np.full(len(wedges), wedges.back_slope),
    )
    return cavities, Ports(**{name: np.ascontiguousarray(found[name]) for name in get_type_hints(Port)})
