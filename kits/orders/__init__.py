"""What was ordered."""
