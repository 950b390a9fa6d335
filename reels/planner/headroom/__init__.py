"""How much longer a run could turn out before reels stop covering all runs."""
