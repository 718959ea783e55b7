"""What a broken table of the package raises; alone here, so that the command line can catch it cheaply."""


class DataFileError(ValueError):
    """A table of the package that can't be read: which file and line, what was read, what would be right."""
