"""Photos of what was reported, each tied to a record by its kind and id."""
