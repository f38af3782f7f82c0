"""What fronts say beside each other."""
