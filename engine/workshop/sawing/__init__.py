"""Sheets and the saw: boards onto stock, and the order in which they are cut."""
