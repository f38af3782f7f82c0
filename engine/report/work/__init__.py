"""The order in which one box is made, a file for each stretch of it: steps from the box's own boards and parts."""
