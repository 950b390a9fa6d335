"""Cable as it is."""
