"""Sites, their members and their places."""
