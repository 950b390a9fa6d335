"""What the pages of cut plans show."""
