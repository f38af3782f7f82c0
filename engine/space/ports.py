"""Where the drivers and openings of laid-out boxes lie in the air inside, for its inertia.

Places are in the cavity's axes (``engine.acoustics.cavity``): from the inner face of the left side, and from the
inner bottom back corner, of boxes as they are packed: upside down where drivers face up.
"""

from __future__ import annotations

from typing import get_type_hints

import numpy as np

from engine.acoustics.cavity import Cavities, Ports
from engine.packing.box import depth_at
from engine.packing.ports import Port
from engine.space.layout import Layout


def ports_of(layout: Layout) -> tuple[Cavities, Ports]:
    """The air inside N laid-out boxes and its ports: openings first, then drivers.

    Radii of cones are those of their cut-outs, which the cone's own area replaces where it is known
    (``thin_box``).  A flared mouth counts as one as wide as its flare.  Made for
    layouts whose slacks are all ≥ 0; others get places too, some of them outside the box.
    """
    boxes, found = layout.batch.boxes, layout.across.ports
    cavities = Cavities(
        width=np.asarray(boxes.inner_width),
        height=np.asarray(boxes.inner_height),
        bottom_depth=np.asarray(depth_at(boxes, boxes.board)),
        top_depth=np.asarray(depth_at(boxes, boxes.outer_height - boxes.board)),
        back_slope=np.asarray(boxes.back_slope),
    )
    return cavities, Ports(**{name: np.ascontiguousarray(found[name]) for name in get_type_hints(Port)})
