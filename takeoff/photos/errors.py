"""What is refused of a photo, and the way out."""

AGAIN = "Take it again, or choose a JPEG."


class PhotoError(ValueError):
    """A photo that is not kept, or not taken away; its text says what to do."""
