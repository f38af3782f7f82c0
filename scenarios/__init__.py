"""Demo jobs: every driver, vehicle and shop in these files is invented."""
