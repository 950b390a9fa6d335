"""What suppliers sent."""
