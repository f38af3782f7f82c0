"""What fronts say beside each other, and how sure their designs are."""
