"""Warmside: from a tape-measure survey of a basement to an insulated wall that stays dry."""
