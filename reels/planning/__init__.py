"""Which length comes off which reel: the pure planner, and (on its own shelves) the stored plans."""
