"""What templates need to show exact numbers."""
