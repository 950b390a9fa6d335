"""Which length comes off which reel: the cut planner. Pure: no Django."""
