"""Another checkout of this project against this one: the same designs, figures, fronts and how long they take."""
