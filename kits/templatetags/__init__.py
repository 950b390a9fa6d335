"""What templates of this floor need."""
