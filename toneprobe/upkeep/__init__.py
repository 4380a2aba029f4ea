"""The string's life through the book: a recorded pitch check, the strings that are still open, the fresh baseline of what has settled, the
way to an engagement, what is taken back."""
