"""The foreman's reels: what is on each and where, cuts as they are made and decided about, and doubts."""
