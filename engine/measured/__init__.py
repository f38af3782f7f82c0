"""The finished box measured: sweeps of its impedance in, what was built out."""
