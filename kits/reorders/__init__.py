"""What to order, and the workbooks that say it."""
