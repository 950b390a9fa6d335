"""The arithmetic of what will run out: needs, learned use, projection, causes, readiness. Pure: no Django."""
