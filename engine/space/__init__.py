"""Space: what the vehicle leaves free, the box in it, and what must fit inside the box."""
