"""Files that pass between the parts: their readers and writers."""
