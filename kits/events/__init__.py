"""What happened in the store, read from sheets and posted in the order of its dates."""
