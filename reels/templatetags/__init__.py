"""What templates of reels say in their own words."""
