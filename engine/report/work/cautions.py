"""What may hurt in the workshop, each said once; steps take what belongs to them."""

from __future__ import annotations

GENERAL = (
    (
        "For people who have been shown how to use the machines named here. Their manuals, local rules and, where a "
        "licence is asked for, those who hold one come before anything on these pages."
    ),
    "Eyes, ears and lungs: goggles, ear muffs, dust mask at every machine. Keep others, children above all, out.",
)
SAW = (
    "Table and track saws: riving knife and guard on, blade just above the wood, push stick within a hand's length of "
    "the blade, stand out of the line of the cut, nothing freehand. The saw's own manual comes first."
)
DUST = (
    "Dust of MDF and plywood harms the lungs: extraction at the machine, a P2/N95 mask or better, goggles, ear muffs."
)
OFF_CUTS = (
    "A tilted blade traps the off-cut under it and throws it: have the off-cut fall free, on the side away from the "
    "fence, and never reach for it while the blade turns."
)
ROUTER = (
    "Router: several shallow passes, against the cutter's turn, both hands on it, work clamped; unplug to change bits."
)
JIGSAW = "Jigsaw: clamp the board, keep what falls out supported, cable behind you, fingers away from under the cut."
HOLE_SAW = (
    "Hole saw: in a drill press, or a drill with a side handle held in both hands, slowly; it grabs as it breaks "
    "through. The work is clamped, never held."
)
SMALL = "Small pieces are held in a vice or by clamps, never by hand."
DRILL = "Drill: work clamped, no gloves and no loose sleeves near what turns."
PIPE = "Saw pipe in a mitre box or a vice; its dust and edges are sharp: mask, goggles, gloves off the blade."
_VAPOURS = (
    "outdoors or with a strong draught, no flame, spark or pilot light, gloves, an organic-vapour mask; let it flash "
    "off as its label says."
)
CEMENT = f"Solvent cement: {_VAPOURS}"
ADHESIVE = f"Contact and spray adhesive: {_VAPOURS}"
PAINT = "Paint, primer, oil: draught, no flame; rags with oil in them heat by themselves: dry them flat, outdoors."
KNIFE = "Knife: cut away from the hand that holds, with a fresh blade."
WOOL = "Fibres itch and get into lungs: gloves, mask."
VEHICLE = (
    (
        "Loose, the box is a missile in a crash: bolt it through structure, not trim, with large washers, and pull "
        "hard on it before driving."
    ),
    (
        "Before anything is drilled or screwed: airbags and their wiring, belt anchors, fuel and brake lines, "
        "high-voltage cables lie behind panels and under floors. Look from both sides; the vehicle's manual and a "
        "licensed workshop know."
    ),
)
