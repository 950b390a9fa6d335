"""Today and the run page."""
