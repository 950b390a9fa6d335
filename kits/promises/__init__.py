"""What was promised."""
