"""Labels for packages, bins, items and reels: printed, and read again."""
