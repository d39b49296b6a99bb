"""The tube as built: its own knockdown factor from its measured shape."""
