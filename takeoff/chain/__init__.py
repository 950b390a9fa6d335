"""A chain of links over what was kept, by which it shows when that is changed afterwards."""
