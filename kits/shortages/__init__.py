"""What will run out, when and why."""
