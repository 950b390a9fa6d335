"""First plans, and moves that make a plan better."""
