"""What boxes sound like: a sound played through judged designs, as they would play it, for headphones."""
