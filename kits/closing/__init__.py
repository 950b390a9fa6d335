"""The end of a run or of a site: what is left, what goes back, what was used, what is still open."""
