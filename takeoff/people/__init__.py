"""Who belongs to a site, what each may do, and how people sign in."""
