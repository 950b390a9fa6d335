"""What is to be built and what it needs."""
