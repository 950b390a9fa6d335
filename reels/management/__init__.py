"""Commands of the reels floor."""
