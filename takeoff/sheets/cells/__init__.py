"""What a cell may hold and how it is read. Pure: no Django."""
