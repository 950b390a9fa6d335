"""What the database itself is asked for: guards on what was recorded, writing many rows, taking turns."""
