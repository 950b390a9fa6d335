"""What suppliers offer for an item, which offer to take, and what it cost over time."""
