"""Commands of the top floor."""
