"""Gang boxes of crews: what is filled into them, counted, and gone from them."""
