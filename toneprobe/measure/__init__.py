"""One identified pluck in, its figures out."""
