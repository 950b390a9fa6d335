"""One door for what happened: a page, a phone and a sheet send the same row and get the same answer."""
