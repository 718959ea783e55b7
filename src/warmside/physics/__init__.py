"""Building physics that stands on its own: usable from a notebook without the rest of the tool."""
