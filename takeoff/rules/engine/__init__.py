"""Rules and what they give for a run. Pure: no Django."""
