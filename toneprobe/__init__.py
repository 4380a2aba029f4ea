"""toneprobe: hears a recorded sweep of plucks and says how each string is against its own fresh self."""

__version__ = "0.1.0"
