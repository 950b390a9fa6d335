"""What stands where on a label, in millimetres. Pure: no Django."""
